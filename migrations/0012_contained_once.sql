-- No question looks for contained units by unit alone: a unit's events say which containments
-- it joined. Without the index a containment of thousands is written in fewer pages.

DROP INDEX contained_by_unit;
