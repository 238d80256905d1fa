"""The bar-speed station: bar velocity at the rack, beside the athlete's own history."""

__version__ = "0.1.0"
