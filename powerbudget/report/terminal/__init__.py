"""Results as pages of text: what each verb prints."""
