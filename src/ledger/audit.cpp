#include "ledger/audit.hpp"

#include <fmt/format.h>

#include <stdexcept>

#include "basis/sha256.hpp"

namespace ebbtide::ledger {

const char* name_of(Act act) {
    return act == Act::entry ? "entry" : "segment";
}

Link no_link() {
    return {0, {}, Act::entry, "", std::string(64, '0')};
}

std::string hash_of(const Link& link, const std::string& previous) {
    return sha256_hex(fmt::format("{}\n{}\n{}\n{}\n{}\n", previous, link.number, link.at.ns,
                                  name_of(link.act), link.content));
}

Result<Link> head(Database& database) {
    Link last = no_link();
    const auto read = database.each(
        "SELECT number, at_ns, act, content, sha256 FROM link ORDER BY number DESC LIMIT 1", {},
        [&](const Row& row) -> Result<Done> {
            last = {row.integer(0), Instant{row.integer(1)},
                    row.text(2) == "entry" ? Act::entry : Act::segment, row.text(3), row.text(4)};
            return Done{};
        });
    if (!read) return read.error();
    return last;
}

Result<Link> append_link(Database& database, Act act, const std::string& content, Instant at) {
    if (!database.writing()) throw std::logic_error("a link outside of a Writing");
    const auto last = head(database);
    if (!last) return last.error();
    Link link{last->number + 1, at, act, content, ""};
    link.sha256 = hash_of(link, last->sha256);
    const auto written =
        database.run("INSERT INTO link (number, at_ns, act, content, sha256) VALUES (?, ?, ?, ?, ?)",
                     {link.number, at.ns, name_of(act), content, link.sha256});
    if (!written) return written.error();
    return link;
}

}  // namespace ebbtide::ledger
