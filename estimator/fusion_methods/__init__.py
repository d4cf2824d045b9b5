"""One module per family of fusion methods; each turns a wall and the weather into figures."""
