"""First screens: the answer of each verb in 20 to 30 lines."""
