"""The pages for people: the same questions under the same names, asked by forms."""
