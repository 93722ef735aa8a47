"""From the negative to the print: exposure, paper, tone reproduction."""
