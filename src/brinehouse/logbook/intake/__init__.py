"""Files of readings (CSV, XLSX, JSON): understood without guessing, every fault with its line."""
