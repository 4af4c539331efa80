"""The layout room: from a TOML file to the frozen records that everything else is told about."""
