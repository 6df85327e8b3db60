"""The hourly balance: inputs, compiled kernel and its plain twin, results, ledger."""
