#include "ledger/check.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <nlohmann/json.hpp>

#include "basis/sha256.hpp"
#include "ledger/canonical.hpp"
#include "ledger/entries.hpp"
#include "ledger/found_rows.hpp"
#include "ledger/migrations.hpp"
#include "ledger/segments.hpp"
#include "ledger/trend_rows.hpp"

namespace ebbtide::ledger {
namespace {

const std::string restore_advice =
    "Keep the file as it is, restore the last backup under another name, and add what came after it again";
const std::string outside =
    "Something wrote to the file outside of this program. Keep it as it is, find out what, and restore the "
    "last backup";
const std::string rebuild = "Nothing that was recorded is lost: 'ebbtide ledger check --rebuild-index'";

/// A damaged file can bring up the same words a million times.
class Damages {
  public:
    explicit Damages(std::vector<Damage>& list) : list_(list) {}
    void add(const std::string& what, const std::string& advice) {
        if (++count_[advice] <= 100) list_.push_back({what, advice});
    }
    void close() {
        for (const auto& [advice, count] : count_)
            if (count > 100) list_.push_back({fmt::format("and {} more of the kind", count - 100), advice});
    }

  private:
    std::vector<Damage>& list_;
    std::map<std::string, std::size_t> count_;
};

Result<Done> check_file(Database& database, Damages& damages) {
    const auto faults = database.faults();
    if (!faults) return faults.error();
    for (const std::string& fault : *faults) damages.add("the file: " + fault, restore_advice);
    return Done{};
}

Result<Done> check_schema(Database& database, Damages& damages) {
    auto sound = Database::in_memory();
    if (!sound) return sound.error();
    const auto number = schema_of(database);
    if (!number) return number.error();
    const auto migrated = migrate(*sound, *number);
    if (!migrated) return migrated;
    const auto wanted = sound->objects(), is = database.objects();
    if (!wanted) return wanted.error();
    if (!is) return is.error();
    for (const auto& [name, sql] : *wanted) {
        const auto found = is->find(name);
        if (found == is->end())
            damages.add("the schema: " + name + " is gone", outside);
        else if (found->second != sql)
            damages.add("the schema: " + name + " was changed", outside);
    }
    return Done{};
}

/// Content hashes by number, of what really stands in the tables.
using Contents = std::map<std::int64_t, std::pair<Act, std::string>>;

Result<Done> check_segments(Database& database, Contents& contents, Checked& checked, Damages& damages) {
    return database.each("SELECT number, sha256, bytes, packing, packed FROM segment ORDER BY number", {},
                         [&](const Row& row) -> Result<Done> {
                             ++checked.segments;
                             const std::string sha256 = row.text(1);
                             contents[row.integer(0)] = {Act::segment, sha256};
                             const auto bytes = unpacked(row.text(3), row.text(4), row.integer(2), sha256);
                             if (!bytes) damages.add(bytes.error().what, restore_advice);
                             return Done{};
                         });
}

Result<Done> check_entries(Database& database, Contents& contents, Checked& checked, Damages& damages) {
    // Entries without a link are asked for too: they came in from outside.
    return database.each(
        fmt::format("SELECT {} FROM entry e LEFT JOIN link l ON l.number = e.number ORDER BY e.number",
                    entry_columns),
        {}, [&](const Row& row) -> Result<Done> {
            ++checked.entries;
            const auto entry = entry_at(row);
            if (!entry) {
                damages.add(entry.error().what, outside);
                return Done{};
            }
            contents[entry->number] = {Act::entry, content_of(*entry)};
            const std::string name = fmt::format("entry {} ({} {}, revision {})", entry->number,
                                                 name_of(entry->kind), entry->id, entry->revision);
            if (sha256_hex(entry->body) != entry->sha256)
                damages.add(name + ": its body is not what was written", outside);
            else if (const auto body = parse_canonical(entry->body); !body)
                damages.add(name + ": its body is " + body.error().what, outside);
            return Done{};
        });
}

Result<Done> check_chain(Database& database, Contents& contents, Checked& checked, Damages& damages) {
    checked.head = no_link();
    auto read = database.each(
        "SELECT number, at_ns, act, content, sha256 FROM link ORDER BY number", {},
        [&](const Row& row) -> Result<Done> {
            const Act act = row.text(2) == "entry" ? Act::entry : Act::segment;
            const Link link{row.integer(0), Instant{row.integer(1)}, act, row.text(3), row.text(4)};
            const Link& before = checked.head;
            if (link.number != before.number + 1)
                damages.add(fmt::format("the chain: link {} follows link {}", link.number, before.number),
                            outside);
            if (hash_of(link, before.sha256) != link.sha256)
                damages.add(fmt::format("the chain: link {} does not hash to what it says", link.number),
                            outside);
            const auto content = contents.extract(link.number);
            if (!content)
                damages.add(fmt::format("what link {} stands for is gone", link.number), outside);
            else if (content.mapped() != std::pair(act, link.content))
                damages.add(fmt::format("what link {} stands for was changed", link.number), outside);
            if (before.number > 0 && link.at < before.at)
                checked.notes.push_back(fmt::format(
                    "link {} is dated {}, before link {} of {}: the clock was set back; the order "
                    "of links is that of their numbers",
                    link.number, iso_text(link.at), before.number, iso_text(before.at)));
            checked.head = link;
            return Done{};
        });
    for (const auto& [number, content] : contents)
        damages.add(fmt::format("{} {} has no link in the chain", name_of(content.first), number), outside);
    return read;
}

Result<Done> check_found(Database& database, Damages& damages) {
    std::int64_t expected = 0;
    auto read = each_searched(database, [&](const Entry& entry) -> Result<Done> {
        const std::string name = fmt::format("{} {}", name_of(entry.kind), entry.id);
        const auto body = parse_canonical(entry.body);
        if (!body) return Done{};  // said already
        const auto wanted = found_rows_in(database, entry, *body);
        if (!wanted) {
            damages.add(name + ": " + wanted.error().what, outside);
            return Done{};
        }
        const auto is = read_found_rows(database, entry.number);
        if (!is) return is.error();
        expected += static_cast<std::int64_t>(is->size());
        if (*wanted != *is)
            damages.add("the tables for finding: " + name + " stands there otherwise", rebuild);
        return Done{};
    });
    if (!read) return read;
    const auto count = count_found_rows(database);
    if (!count) return count.error();
    if (*count > expected)
        damages.add(fmt::format("the tables for finding: {} rows too many", *count - expected), rebuild);
    return Done{};
}

Result<Done> check_trend(Database& database, Damages& damages) {
    const auto schema = schema_of(database);
    if (!schema) return schema.error();
    if (*schema < 2) return Done{};
    const auto wanted = worked_out_trend(database);
    if (!wanted) return wanted.error();
    TrendRows is;
    auto read =
        each_trend_row(database, "", [&](const TrendKey& key, const TrendSums& sums) { is[key] = sums; });
    if (!read) return read;
    const bool alike = std::ranges::equal(*wanted, is, [](const auto& one, const auto& other) {
        return one.first.tied() == other.first.tied() && one.second.agrees_with(other.second);
    });
    if (!alike) damages.add("the tables for finding: a trend stands there otherwise", rebuild);
    return Done{};
}

}  // namespace

Result<Checked> check(Database& database) {
    const auto snapshot = Snapshot::begin(database);
    if (!snapshot) return snapshot.error();
    Checked checked;
    Damages damages(checked.damages);
    Contents contents;
    for (const auto& step : std::vector<std::function<Result<Done>()>>{
             [&] { return check_file(database, damages); }, [&] { return check_schema(database, damages); },
             [&] { return check_segments(database, contents, checked, damages); },
             [&] { return check_entries(database, contents, checked, damages); },
             [&] { return check_chain(database, contents, checked, damages); },
             [&] { return check_found(database, damages); },
             [&] { return check_trend(database, damages); }}) {
        // A part that cannot be read to its end is damage; the other parts are still looked at.
        if (const auto done = step(); !done) damages.add(done.error().what, restore_advice);
    }
    damages.close();
    return checked;
}

Result<Done> rebuild_index(Database& database) {
    auto writing = Writing::begin(database);
    if (!writing) return writing.error();
    auto rebuilt = rebuild_found_rows(database);
    if (!rebuilt) return rebuilt;
    return writing->commit();
}

}  // namespace ebbtide::ledger
