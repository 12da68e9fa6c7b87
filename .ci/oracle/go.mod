module tarebook-oracle

go 1.26.0
