"""What tests share: the trade read once, layouts, sentences, strategies, oracles; imported as `support.<name>`."""
