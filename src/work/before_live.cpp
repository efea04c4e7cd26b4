#include "work/before_live.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "judge/bench_standing.hpp"
#include "record/json.hpp"
#include "recording/source.hpp"
#include "work/bench_standing.hpp"

namespace ebbtide::work {
namespace {

/// A bench may lie beside many orders; an order keeps the checks that it rests on.
Result<Done> copy_checks(const StartRequest& request, const std::vector<plan::BenchCheck>& checks) {
    std::error_code none;
    for (const plan::BenchCheck& check : checks) {
        const std::string from = request.checks_place + "/" + check.file,
                          to = request.order + "/" + check.file;
        if (std::filesystem::exists(to, none)) continue;
        auto text = read_whole(from, std::uint64_t{1} << 20);
        if (!text) return text.error();
        const auto written =
            write_check_file(request.order, std::filesystem::path(check.file).filename().string(), *text);
        if (!written) return written.error();
    }
    return Done{};
}

}  // namespace

Result<std::optional<std::string>> start_on_check(const StartRequest& request, const plan::Bench& bench,
                                                  Instant now) {
    if (!bench.check || request.dry_run) return std::optional<std::string>();
    const auto checks = bench_checks_in(request.checks_place, bench);
    if (!checks) return checks.error();
    const std::string reason = judge::reason_not_to_start(*checks, *bench.check, now);
    if (!reason.empty()) {
        if (request.override_.empty())
            return Error{Fault::bad_input, reason, bench.id,
                         "Make an opening check ('ebbtide check'), or let a named person answer for it: "
                         "--who INITIALS --override REASON"};
        if (request.who.empty())
            return Error{Fault::bad_input, "the override names nobody", "--override",
                         "Say who answers for it: --who INITIALS"};
        const auto written = write_check_file(request.order, fmt::format("override-{}.json", name_text(now)),
                                              override_text(bench, now, request.who, request.override_));
        if (!written) return written.error();
    }
    if (const auto copied = copy_checks(request, *checks); !copied) return copied.error();
    return reason.empty() ? std::optional<std::string>() : std::optional(reason);
}

bool confirm_setup(const StartRequest& request, const plan::Bench& bench,
                   const std::function<Answer(const Question&)>& ask, const std::function<Instant()>& now) {
    if (bench.setup.empty()) return true;
    const std::string name = fmt::format("setup-{}.json", iso_text(date_of(now())));
    std::error_code none;
    if (!request.dry_run &&
        std::filesystem::exists(request.checks_place + "/" + checks_folder + "/" + name, none))
        return true;
    nlohmann::json confirmed = nlohmann::json::array();
    for (const std::string& text : bench.setup) {
        if (ask({Question::Kind::setup, text}) != Answer::done) return false;
        confirmed.push_back(text);
    }
    if (request.dry_run) return true;
    const auto written = write_check_file(request.checks_place, name,
                                          record::canonical_text({{"schema", "ebbtide.setup/1"},
                                                                  {"bench", bench.id},
                                                                  {"bench_revision", bench.revision},
                                                                  {"confirmed", iso_text(now())},
                                                                  {"by", request.who},
                                                                  {"lines", std::move(confirmed)}}));
    return written.ok();
}

}  // namespace ebbtide::work
