-- Second schema. What an erased code is known again by tells its form: «sha256» as in the
-- first schema, or «scrypt» (erased_code.rs). Besides, each session has a record among its
-- files (record.rs), and «seal» in about holds what was last written there and in erased
-- (sqlite.rs).
ALTER TABLE erased RENAME COLUMN code_sha256 TO code_digest;
ALTER TABLE erased ADD COLUMN form TEXT NOT NULL DEFAULT 'sha256'
    CHECK (form IN ('sha256', 'scrypt'));
