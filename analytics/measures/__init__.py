"""Pure: what is measured about testers, irrigators and clinics: one TOML file a measure."""

from analytics.measures.catalogue import Catalogue, Measure, catalogue

__all__ = ["Catalogue", "Measure", "catalogue"]
