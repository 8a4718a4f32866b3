"""Taking the shop's data out, as tables that any spreadsheet program opens."""
