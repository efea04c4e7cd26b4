#include "ledger/backup.hpp"

#include <filesystem>

#include "ledger/durable_file.hpp"
#include "ledger/migrations.hpp"

namespace ebbtide::ledger {

Result<Done> back_up(Database& ledger, const std::string& path) {
    const std::string part = path + ".part";
    for (const std::string& name : {path, part}) {
        auto is_new = must_be_new(name);
        if (!is_new) return is_new;
    }
    auto copied = ledger.copy_to(part);
    if (copied) copied = give_name(part, path);
    if (!copied) {
        std::error_code ignored;
        std::filesystem::remove(part, ignored);
    }
    return copied;
}

Result<Checked> restore(const std::string& backup, const std::string& path) {
    const auto is_new = must_be_new(path);
    if (!is_new) return is_new.error();
    auto source = open_ledger(backup, Database::Access::read);
    if (!source) return source.error();
    auto checked = check(*source);
    if (!checked) return checked.error();
    if (!checked->whole())
        return Error{Fault::inconsistent, "is damaged: " + checked->damages.front().what, backup,
                     "'ebbtide ledger check' says all that is; restore an earlier backup"};
    const auto copied = back_up(*source, path);
    if (!copied) return copied.error();
    return checked;
}

}  // namespace ebbtide::ledger
