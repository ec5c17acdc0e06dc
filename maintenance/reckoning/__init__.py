"""Workshop reckoning: small sums that are easy to get wrong at the bench."""
