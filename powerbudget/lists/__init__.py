"""Client's lists: cells of any file, heads, words for signals, what each row became."""
