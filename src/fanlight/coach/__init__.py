"""From findings to the few things worth saying: what is right, what to change, what to scan again."""
