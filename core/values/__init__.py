"""Values from outside the program: reads text, quantities, TOML fields and files. Also describes a lathe's dials."""
