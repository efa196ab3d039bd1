"""Commands at home: listening to doors, and watching."""
