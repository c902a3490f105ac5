"""What may be written in a layout, from the declarations that reading works from."""
