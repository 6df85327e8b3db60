"""Options on equal terms: cost over the years, fuel, visits, emissions."""
