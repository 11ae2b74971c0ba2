"""Between the toolkit and the terminal: what is sent, what is typed, which signs are drawn."""
