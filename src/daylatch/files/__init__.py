"""How results become files: in place, one form a module, and told from what is not ours."""
