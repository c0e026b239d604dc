"""The triggers by which the database itself refuses to change or remove a sealed record."""

from django.db.backends.base.base import BaseDatabaseWrapper

RECORD, TEXT, PHOTO, CHAIN = "plant_record", "plant_recordtext", "plant_recordphoto", "plant_chain"

# A text or a photo may be erased by law (emptied, once), and in no other way changed.
_SQLITE = [
    f"CREATE TRIGGER record_never_changed BEFORE UPDATE ON {RECORD} "
    "BEGIN SELECT RAISE(ABORT, 'a sealed record is never changed'); END",
    f"CREATE TRIGGER record_never_removed BEFORE DELETE ON {RECORD} "
    "BEGIN SELECT RAISE(ABORT, 'a sealed record is never removed'); END",
    f"CREATE TRIGGER text_only_erased BEFORE UPDATE ON {TEXT} "
    "WHEN NEW.record_id IS NOT OLD.record_id OR NEW.name IS NOT OLD.name OR NEW.text <> '' "
    "OR NEW.salt <> '' OR NEW.erased_at IS NULL "
    "BEGIN SELECT RAISE(ABORT, 'a text of a sealed record can only be erased'); END",
    f"CREATE TRIGGER text_never_removed BEFORE DELETE ON {TEXT} "
    "BEGIN SELECT RAISE(ABORT, 'a text of a sealed record is never removed'); END",
    f"CREATE TRIGGER photo_only_erased BEFORE UPDATE ON {PHOTO} "
    "WHEN NEW.record_id IS NOT OLD.record_id OR NEW.name IS NOT OLD.name OR NEW.file <> '' "
    "OR NEW.salt <> '' OR NEW.erased_at IS NULL "
    "BEGIN SELECT RAISE(ABORT, 'a photo of a sealed record can only be erased'); END",
    f"CREATE TRIGGER photo_never_removed BEFORE DELETE ON {PHOTO} "
    "BEGIN SELECT RAISE(ABORT, 'a photo of a sealed record is never removed'); END",
    f"CREATE TRIGGER chain_only_grows BEFORE UPDATE ON {CHAIN} "
    "WHEN NEW.depot_id IS NOT OLD.depot_id OR NEW.head_seq <> OLD.head_seq + 1 "
    "BEGIN SELECT RAISE(ABORT, 'a chain grows one record at a time'); END",
    f"CREATE TRIGGER chain_never_removed BEFORE DELETE ON {CHAIN} "
    "BEGIN SELECT RAISE(ABORT, 'a chain is never removed'); END",
]
_SQLITE_NAMES = [line.split()[2] for line in _SQLITE]

_POSTGRES = f"""
CREATE FUNCTION sealed_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION 'a sealed record is never changed or removed (%)', TG_TABLE_NAME
  USING ERRCODE = 'integrity_constraint_violation'; END $$;
CREATE FUNCTION sealed_text_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NEW.id IS DISTINCT FROM OLD.id OR NEW.record_id IS DISTINCT FROM OLD.record_id
     OR NEW.name IS DISTINCT FROM OLD.name OR NEW.salt <> '' OR NEW.erased_at IS NULL
     OR to_jsonb(NEW) ->> TG_ARGV[0] <> '' THEN
    RAISE EXCEPTION 'a text or photo of a sealed record can only be erased'
      USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE FUNCTION sealed_chain_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NEW.depot_id IS DISTINCT FROM OLD.depot_id OR NEW.head_seq <> OLD.head_seq + 1 THEN
    RAISE EXCEPTION 'a chain grows one record at a time'
      USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER record_never_changed BEFORE UPDATE OR DELETE ON {RECORD}
  FOR EACH ROW EXECUTE FUNCTION sealed_refuse();
CREATE TRIGGER record_never_emptied BEFORE TRUNCATE ON {RECORD}
  FOR EACH STATEMENT EXECUTE FUNCTION sealed_refuse();
CREATE TRIGGER text_only_erased BEFORE UPDATE ON {TEXT}
  FOR EACH ROW EXECUTE FUNCTION sealed_text_refuse('text');
CREATE TRIGGER text_never_removed BEFORE DELETE ON {TEXT}
  FOR EACH ROW EXECUTE FUNCTION sealed_refuse();
CREATE TRIGGER text_never_emptied BEFORE TRUNCATE ON {TEXT}
  FOR EACH STATEMENT EXECUTE FUNCTION sealed_refuse();
CREATE TRIGGER photo_only_erased BEFORE UPDATE ON {PHOTO}
  FOR EACH ROW EXECUTE FUNCTION sealed_text_refuse('file');
CREATE TRIGGER photo_never_removed BEFORE DELETE ON {PHOTO}
  FOR EACH ROW EXECUTE FUNCTION sealed_refuse();
CREATE TRIGGER photo_never_emptied BEFORE TRUNCATE ON {PHOTO}
  FOR EACH STATEMENT EXECUTE FUNCTION sealed_refuse();
CREATE TRIGGER chain_only_grows BEFORE UPDATE ON {CHAIN}
  FOR EACH ROW EXECUTE FUNCTION sealed_chain_refuse();
CREATE TRIGGER chain_never_removed BEFORE DELETE ON {CHAIN}
  FOR EACH ROW EXECUTE FUNCTION sealed_refuse();
CREATE TRIGGER chain_never_emptied BEFORE TRUNCATE ON {CHAIN}
  FOR EACH STATEMENT EXECUTE FUNCTION sealed_refuse();
"""


def lay(connection: BaseDatabaseWrapper) -> None:
    """Puts the seals on; called by the migration."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            for line in _SQLITE:
                cursor.execute(line)
        else:
            cursor.execute(_POSTGRES)


def lift(connection: BaseDatabaseWrapper) -> None:
    """Takes the seals off: for undoing the migration, and for tests that empty the database."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            for name in _SQLITE_NAMES:
                cursor.execute(f"DROP TRIGGER IF EXISTS {name}")
        else:
            for name in ("sealed_refuse", "sealed_text_refuse", "sealed_chain_refuse"):
                cursor.execute(f"DROP FUNCTION IF EXISTS {name}() CASCADE")
