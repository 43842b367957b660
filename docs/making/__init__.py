"""How the generated pages of the documentation are made: one module a kind of page, each with `pages()`: names and texts."""
