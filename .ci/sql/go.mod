module tarebook-sql

go 1.26.0

require tarebook-oracle v0.0.0

replace tarebook-oracle => ../oracle
