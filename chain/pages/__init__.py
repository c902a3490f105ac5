"""Pages made of blocks, written as HTML, Markdown, CSV, in a folder of their own."""
