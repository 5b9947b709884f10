"""The pages of the desk, of loans, returns and deposits, and of one's own seed."""
