"""What the watch decides: what is wrong, and who must be told now. Pure but for `state`, `lock`."""
