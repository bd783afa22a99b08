"""Flight physics: opens no file, knows no YAML.  Everything here is SI, in ISO 1151 axes."""
