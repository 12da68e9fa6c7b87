module tarebook-hands

go 1.26.0
