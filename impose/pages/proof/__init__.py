"""What people look at before paper is spent: the proof of a batch, and one page for each customer to agree to."""
