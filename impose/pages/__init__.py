"""What is written: sheets, tickets, proofs."""
