#include "work/bench_standing.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "basis/sha256.hpp"
#include "ledger/durable_file.hpp"
#include "record/json.hpp"
#include "work/run_recording.hpp"

namespace ebbtide::work {
namespace {

using nlohmann::json;

constexpr std::uint64_t largest_check = std::uint64_t{1} << 20;

bool is_check_file(const std::string& name) {
    return name.ends_with(".json") &&
           (name.starts_with("opening-") || name.starts_with("closing-") || name.starts_with("override-"));
}

std::string check_text_at(const json& object, const char* key) {
    const auto found = object.find(key);
    return found != object.end() && found->is_string() ? found->get<std::string>() : std::string();
}

Result<std::vector<plan::BenchCheck>> parsed(
    const std::vector<std::string>& names, const plan::Bench& bench,
    const std::function<Result<std::string>(const std::string&)>& text_of) {
    std::vector<plan::BenchCheck> checks;
    for (const std::string& name : names) {
        if (!is_check_file(name)) continue;
        const auto text = text_of(name);
        if (!text) return text.error();
        auto check = parse_bench_check(*text, name, bench);
        if (!check) return check.error();
        check->file = fmt::format("{}/{}", checks_folder, name);
        checks.push_back(std::move(check).value());
    }
    std::ranges::stable_sort(checks, {}, &plan::BenchCheck::at);
    return checks;
}

}  // namespace

std::string folder_of_bench(const std::string& bench_file) {
    const auto folder = std::filesystem::path(bench_file).parent_path();
    return folder.empty() ? "." : folder.string();
}

Result<plan::BenchCheck> parse_bench_check(const std::string& text, const std::string& name,
                                           const plan::Bench& bench) {
    const auto refused = [&](std::string what) {
        return Error{Fault::bad_input, std::move(what), name,
                     "Records of bench checks are written by 'ebbtide check' and are not edited"};
    };
    const json record = json::parse(text, nullptr, false);
    if (!record.is_object() || check_text_at(record, "schema") != "ebbtide.bench_check/1")
        return refused("is no record of a bench check");
    if (check_text_at(record, "bench") != bench.id ||
        check_text_at(record, "bench_revision") != bench.revision)
        return Error{Fault::bad_input,
                     fmt::format("is a check of bench '{}', revision '{}', not of '{}', revision '{}'",
                                 check_text_at(record, "bench"), check_text_at(record, "bench_revision"),
                                 bench.id, bench.revision),
                     name, "A changed bench is checked anew; keep the old record elsewhere"};
    plan::BenchCheck check;
    check.file = name;
    const std::string kind = check_text_at(record, "kind");
    if (kind == "opening")
        check.kind = plan::BenchCheck::Kind::opening;
    else if (kind == "closing")
        check.kind = plan::BenchCheck::Kind::closing;
    else if (kind == "override")
        check.kind = plan::BenchCheck::Kind::override_;
    else
        return refused("says neither opening, closing nor override");
    const auto at = parse_instant(check_text_at(record, "ended"));
    if (!at) return refused("does not say when it ended");
    check.at = *at;
    check.good = check_text_at(record, "outcome") == "good";
    check.who = check_text_at(record, "by");
    check.reason = check_text_at(record, "reason");
    return check;
}

Result<std::vector<plan::BenchCheck>> bench_checks(const OrderFiles& files, const plan::Bench& bench,
                                                   record::OrderRecord& record) {
    if (!files.has_folder(checks_folder)) return std::vector<plan::BenchCheck>{};
    const auto names = files.files_in(checks_folder);
    if (!names) return names.error();
    return parsed(*names, bench, [&](const std::string& name) -> Result<std::string> {
        const std::string file = fmt::format("{}/{}", checks_folder, name);
        auto text = files.text(file);
        if (text) record.inputs.push_back({"bench_check", file, sha256_hex(*text), text->size()});
        return text;
    });
}

Result<std::vector<plan::BenchCheck>> bench_checks_in(const std::string& folder, const plan::Bench& bench) {
    std::error_code none;
    const std::string place = folder + "/" + checks_folder;
    if (std::filesystem::symlink_status(place, none).type() == std::filesystem::file_type::not_found)
        return std::vector<plan::BenchCheck>{};
    const auto names = names_in(place);
    if (!names) return names.error();
    return parsed(*names, bench,
                  [&](const std::string& name) { return read_whole(place + "/" + name, largest_check); });
}

Result<Done> write_check_file(const std::string& folder, const std::string& name, const std::string& text) {
    const std::string place = folder + "/" + checks_folder;
    std::error_code fault;
    std::filesystem::create_directories(place, fault);
    const std::string path = place + "/" + name, part = path + unfinished;
    std::filesystem::remove(part, fault);
    if (const auto written = ledger::write_new_file(part, text); !written) return written.error();
    return give_file_name(part, path);
}

std::string name_text(Instant at) {
    std::string text = iso_text(Instant{at.ns - at.ns % 1'000'000'000});
    std::erase(text, ':');
    return text;
}

std::string override_text(const plan::Bench& bench, Instant at, const std::string& who,
                          const std::string& reason) {
    return record::canonical_text({{"schema", "ebbtide.bench_check/1"},
                                   {"kind", "override"},
                                   {"bench", bench.id},
                                   {"bench_revision", bench.revision},
                                   {"ended", iso_text(at)},
                                   {"outcome", "none"},
                                   {"by", who},
                                   {"reason", reason}});
}

}  // namespace ebbtide::work
