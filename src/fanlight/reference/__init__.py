"""Tables as TOML, and their readers. Only `load` opens files."""
