"""Pure statistics: numpy, pandas, scipy and statsmodels only; nothing of Django."""
