"""Many years of sky, load and bank: outcomes, probabilities, reliability."""
