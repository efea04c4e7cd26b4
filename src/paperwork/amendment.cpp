#include "paperwork/amendment.hpp"

#include <fmt/format.h>

namespace ebbtide::paperwork {

std::optional<plan::Amendment> amendment(TableReader& top, const plan::Order& order) {
    auto table = top.optional_table("amendment");
    if (!table) {
        if (order.revision > 1)
            top.problem("revision", fmt::format("revision {} states no [amendment]", order.revision),
                        "Say under [amendment] which issued report this one replaces, why, and what changed");
        return {};
    }
    if (order.revision == 1)
        table->problem("", "revision 1 replaces no report, yet has an [amendment]",
                       "Count up 'revision', or remove [amendment]");
    plan::Amendment out;
    out.replaces_revision = table->whole("replaces_revision", 1, 10000);
    // A revision of 0 is one that could not be read: that is said where it stands.
    if (order.revision > 1 && out.replaces_revision >= order.revision)
        table->problem(
            "replaces_revision",
            fmt::format("revision {} cannot replace revision {}", order.revision, out.replaces_revision),
            "Name the revision that was issued before this one");
    out.replaces_issued = table->date("replaces_issued");
    if (order.issued && out.replaces_issued->year != 0 && *order.issued < *out.replaces_issued)
        table->problem("replaces_issued",
                       fmt::format("the replaced report was issued on {}, after this one, {}",
                                   iso_text(*out.replaces_issued), iso_text(*order.issued)),
                       "");
    out.reason = table->text("reason");
    out.changes = table->texts_or_none("changes");
    if (out.changes.empty())
        table->problem("changes", "no change is stated", "List each change in words: [\"...\", \"...\"]");
    out.replaced_report = table->file_or_none("replaced_report");
    return out;
}

}  // namespace ebbtide::paperwork
