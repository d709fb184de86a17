"""The words that questions share: fields, rules, cautions, verdicts, chemistries, layouts, sharing."""
