"""Numbers and quantities as people type them: "6 drops", "2,1 meq/l", "1/4 cup". One place for all who ask."""
