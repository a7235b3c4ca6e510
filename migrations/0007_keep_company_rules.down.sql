DROP TABLE determination;
DROP TABLE company_rules;
