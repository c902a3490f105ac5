"""What may be written in a layout, told from the declarations that reading works from."""
