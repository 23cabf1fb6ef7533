"""In how many variants of a trip it goes well: samples, racing, sensitivity and the words for them."""
