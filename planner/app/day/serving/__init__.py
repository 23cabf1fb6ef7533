"""How a buyer could be served: rides judged, options weighed, boxes and shade given out."""
