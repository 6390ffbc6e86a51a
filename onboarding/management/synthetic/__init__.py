"""An invented fleet, the same every time: for the demo and for benchmarks. Nobody and nothing in it is real."""
