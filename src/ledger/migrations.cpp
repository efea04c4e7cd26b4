#include "ledger/migrations.hpp"

#include <fmt/format.h>

#include <array>

#include "ledger/found_rows.hpp"
#include "ledger/trend_rows.hpp"

namespace ebbtide::ledger {
namespace {

// A step is never changed once a ledger was made by it: the next change is the next step.
constexpr const char* schema_1 = R"sql(
CREATE TABLE link (
    number INTEGER PRIMARY KEY,
    at_ns INTEGER NOT NULL,
    act TEXT NOT NULL CHECK (act IN ('entry', 'segment')),
    content TEXT NOT NULL,
    sha256 TEXT NOT NULL
) STRICT;
CREATE TABLE segment (
    number INTEGER PRIMARY KEY,
    sha256 TEXT NOT NULL UNIQUE,
    bytes INTEGER NOT NULL,
    packing TEXT NOT NULL CHECK (packing IN ('none', 'zstd')),
    packed BLOB NOT NULL
) STRICT;
CREATE TABLE entry (
    number INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,
    id TEXT NOT NULL,
    revision INTEGER NOT NULL,
    who TEXT NOT NULL,
    why TEXT NOT NULL,
    voided INTEGER NOT NULL CHECK (voided IN (0, 1)),
    body TEXT NOT NULL,
    sha256 TEXT NOT NULL,
    UNIQUE (kind, id, revision)
) STRICT;

CREATE TRIGGER link_unchanged BEFORE UPDATE ON link
BEGIN SELECT RAISE(ABORT, 'links are never changed'); END;
CREATE TRIGGER link_kept BEFORE DELETE ON link
BEGIN SELECT RAISE(ABORT, 'links are never removed'); END;
CREATE TRIGGER link_appended BEFORE INSERT ON link
WHEN NEW.number <> (SELECT coalesce(max(number), 0) + 1 FROM link)
BEGIN SELECT RAISE(ABORT, 'links have consecutive numbers'); END;

CREATE TRIGGER segment_unchanged BEFORE UPDATE ON segment
BEGIN SELECT RAISE(ABORT, 'segments are never changed'); END;
CREATE TRIGGER segment_kept BEFORE DELETE ON segment
BEGIN SELECT RAISE(ABORT, 'segments are never removed'); END;
CREATE TRIGGER segment_appended BEFORE INSERT ON segment
WHEN NEW.number <= (SELECT coalesce(max(number), 0) FROM segment)
    OR EXISTS (SELECT 1 FROM segment WHERE sha256 = NEW.sha256)
BEGIN SELECT RAISE(ABORT, 'segments are kept once'); END;

CREATE TRIGGER entry_unchanged BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'entries are never changed: a correction is a new revision'); END;
CREATE TRIGGER entry_kept BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'entries are never removed: they are voided by a new revision'); END;
CREATE TRIGGER entry_appended BEFORE INSERT ON entry
WHEN NEW.number <= (SELECT coalesce(max(number), 0) FROM entry)
    OR NEW.revision <>
        (SELECT coalesce(max(revision), 0) + 1 FROM entry WHERE kind = NEW.kind AND id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'entries have consecutive revisions'); END;

CREATE TABLE found_order (
    number INTEGER PRIMARY KEY,
    order_id TEXT NOT NULL,
    order_revision INTEGER NOT NULL,
    customer TEXT NOT NULL,
    method TEXT NOT NULL,
    method_edition TEXT NOT NULL,
    specification TEXT NOT NULL,
    specification_edition TEXT NOT NULL,
    bench TEXT NOT NULL,
    bench_revision TEXT NOT NULL,
    statement TEXT NOT NULL,
    tested_from TEXT NOT NULL,
    tested_to TEXT NOT NULL,
    issued TEXT,
    runs INTEGER NOT NULL
) STRICT;
CREATE INDEX found_order_by_id ON found_order (order_id);
CREATE TABLE found_item (
    number INTEGER NOT NULL,
    item TEXT NOT NULL,
    material TEXT NOT NULL,
    lot TEXT NOT NULL
) STRICT;
CREATE INDEX found_item_by_number ON found_item (number);
CREATE TABLE found_run (
    number INTEGER NOT NULL,
    line INTEGER NOT NULL,
    order_id TEXT NOT NULL,
    run_id TEXT NOT NULL,
    item TEXT NOT NULL,
    specimen TEXT NOT NULL,
    face TEXT NOT NULL,
    conditions TEXT NOT NULL,
    polarity TEXT NOT NULL,
    replicate INTEGER NOT NULL,
    level REAL,
    level_kind TEXT,
    status TEXT,
    decay_s REAL,
    u_decay_s REAL,
    at_least_s REAL,
    at_most_s REAL,
    counts INTEGER NOT NULL,
    PRIMARY KEY (number, line)
) STRICT, WITHOUT ROWID;
CREATE INDEX found_run_by_order ON found_run (order_id);
CREATE INDEX found_run_by_run ON found_run (run_id);

CREATE VIEW found_result AS
SELECT o.order_id, o.order_revision, o.customer, o.method, o.method_edition, o.specification,
    o.specification_edition, o.bench, o.bench_revision, o.statement, o.tested_from, o.tested_to, o.issued,
    r.item, i.material, i.lot, r.run_id, r.specimen, r.face, r.conditions, r.polarity, r.replicate,
    r.level, r.level_kind, r.status, r.decay_s, r.u_decay_s, r.at_least_s, r.at_most_s, r.counts
FROM found_run r
JOIN found_order o ON o.order_id = r.order_id
LEFT JOIN found_item i ON i.number = o.number AND i.item = r.item;
)sql";

constexpr const char* schema_2 = R"sql(
CREATE TABLE found_transcript (
    number INTEGER PRIMARY KEY,
    material TEXT NOT NULL,
    lot TEXT NOT NULL,
    customer TEXT NOT NULL,
    method TEXT NOT NULL,
    specimen TEXT NOT NULL,
    tested TEXT NOT NULL,
    level REAL NOT NULL,
    level_kind TEXT NOT NULL,
    decay_s REAL NOT NULL,
    u_decay_s REAL,
    source TEXT NOT NULL,
    source_row INTEGER NOT NULL
) STRICT;
CREATE TABLE found_trend (
    material TEXT NOT NULL,
    method TEXT NOT NULL,
    conditions TEXT NOT NULL,
    level_kind TEXT NOT NULL,
    level REAL NOT NULL,
    month TEXT NOT NULL,
    times INTEGER NOT NULL,
    sum_ln REAL NOT NULL,
    sum_ln2 REAL NOT NULL,
    shortest_s REAL,
    longest_s REAL,
    longer INTEGER NOT NULL,
    shorter INTEGER NOT NULL,
    orders INTEGER NOT NULL,
    failed INTEGER NOT NULL,
    PRIMARY KEY (material, method, conditions, level_kind, level, month)
) STRICT, WITHOUT ROWID;
CREATE INDEX found_order_by_month ON found_order (substr(tested_to, 1, 7));
)sql";

// The index over run ids answered no question of ours, and cost each run a page.
constexpr const char* schema_3 = R"sql(
CREATE TABLE found_check (
    number INTEGER PRIMARY KEY,
    check_id TEXT NOT NULL,
    bench TEXT NOT NULL,
    bench_revision TEXT NOT NULL,
    kind TEXT NOT NULL,
    ended_ns INTEGER NOT NULL,
    outcome TEXT NOT NULL
) STRICT;
CREATE INDEX found_check_by_bench ON found_check (bench, ended_ns);
CREATE TABLE found_order_check (
    number INTEGER NOT NULL,
    check_id TEXT NOT NULL,
    PRIMARY KEY (number, check_id)
) STRICT, WITHOUT ROWID;
DROP INDEX found_run_by_run;
)sql";

// By orders, so that no index is needed to find those of one: it cost each run a page.
constexpr const char* schema_4 = R"sql(
CREATE TEMP TABLE moved AS SELECT * FROM found_run;
DROP TABLE found_run;
CREATE TABLE found_run (
    number INTEGER NOT NULL,
    line INTEGER NOT NULL,
    order_id TEXT NOT NULL,
    run_id TEXT NOT NULL,
    item TEXT NOT NULL,
    specimen TEXT NOT NULL,
    face TEXT NOT NULL,
    conditions TEXT NOT NULL,
    polarity TEXT NOT NULL,
    replicate INTEGER NOT NULL,
    level REAL,
    level_kind TEXT,
    status TEXT,
    decay_s REAL,
    u_decay_s REAL,
    at_least_s REAL,
    at_most_s REAL,
    counts INTEGER NOT NULL,
    PRIMARY KEY (order_id, number, line)
) STRICT, WITHOUT ROWID;
INSERT INTO found_run SELECT * FROM moved ORDER BY order_id, number, line;
DROP TABLE moved;
)sql";

struct Step {
    const char* sql;
    /// Fills what is new from what is there.
    Result<Done> (*fill)(Database&);
};
Result<Done> nothing_to_fill(Database&) {
    return Done{};
}
constexpr std::array steps{Step{schema_1, nothing_to_fill}, Step{schema_2, rebuild_trend},
                           Step{schema_3, fill_order_checks}, Step{schema_4, nothing_to_fill}};
static_assert(steps.size() == newest_schema);

Result<Done> step_up(Database& database, std::int64_t from, std::int64_t to) {
    for (std::int64_t number = from; number < to; ++number) {
        const Step& step = steps[static_cast<std::size_t>(number)];
        auto done = database.script(step.sql);
        if (done) done = step.fill(database);
        if (done) done = database.set_mark({application_id, number + 1});
        if (!done) return done;
    }
    return Done{};
}

}  // namespace

Result<std::int64_t> schema_of(Database& database) {
    const auto mark = database.mark();
    if (!mark) return mark.error();
    if (mark->application != application_id)
        return Error{Fault::bad_input, "is not a ledger", database.path(),
                     "Name the file that 'ebbtide ledger init' made"};
    if (mark->schema > newest_schema)
        return Error{
            Fault::bad_input,
            fmt::format("was written by a newer version of this program (schema {}, this one knows {})",
                        mark->schema, newest_schema),
            database.path(), "Use that version, or a later one"};
    return mark->schema;
}

Result<Done> migrate(Database& database, std::int64_t to) {
    auto writing = Writing::begin(database);
    if (!writing) return writing.error();
    const auto stepped = step_up(database, 0, to);
    if (!stepped) return stepped;
    return writing->commit();
}

Result<Database> create_ledger(const std::string& path) {
    auto database = Database::create(path);
    if (!database) return database.error();
    const auto migrated = migrate(*database, newest_schema);
    if (!migrated) return migrated.error();
    return database;
}

Result<Database> open_ledger(const std::string& path, Database::Access access, Span wait) {
    auto database = Database::open(path, access, wait);
    if (!database) return database.error();
    auto schema = schema_of(*database);
    if (!schema) return schema.error();
    if (access == Database::Access::read || *schema == newest_schema) return database;
    auto writing = Writing::begin(*database);
    if (!writing) return writing.error();
    // Another program may have done it meanwhile.
    schema = schema_of(*database);
    if (!schema) return schema.error();
    const auto stepped = step_up(*database, *schema, newest_schema);
    if (!stepped) return stepped.error();
    const auto done = writing->commit();
    if (!done) return done.error();
    return database;
}

}  // namespace ebbtide::ledger
