"""The ground floor: what every room stands on."""
