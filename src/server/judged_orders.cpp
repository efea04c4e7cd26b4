#include "server/judged_orders.hpp"

#include <sys/stat.h>

#include <algorithm>
#include <set>

#include "work/bench_standing.hpp"
#include "work/order_at_hand.hpp"
#include "work/this_computer.hpp"

namespace ebbtide::server {
namespace {

/// A file that was changed so shortly before it was read may change again and keep its time.
constexpr std::int64_t settled_ns = 50'000'000;

FileStand stand_of(const std::string& folder, const std::string& name) {
    FileStand stand{name};
    struct stat about {};
    if (::stat((folder + "/" + name).c_str(), &about) != 0) return stand;
    stand.changed_ns = std::int64_t{about.st_mtim.tv_sec} * 1'000'000'000 + about.st_mtim.tv_nsec;
    stand.bytes = S_ISDIR(about.st_mode) ? 0 : std::int64_t{about.st_size};
    return stand;
}

/// Folders are among them: a file that comes or goes changes their time.
std::vector<FileStand> stands_of(const std::string& folder, const record::OrderRecord& record) {
    std::set<std::string> names{"order.toml", work::checks_folder};
    for (const record::InputFile& input : record.inputs) names.insert(input.name);
    for (const plan::RecordingFolder& one : record.order.folders) names.insert(one.folder);
    std::vector<FileStand> stands;
    for (const std::string& name : names) stands.push_back(stand_of(folder, name));
    return stands;
}

}  // namespace

std::shared_ptr<JudgedOrders::Entry> JudgedOrders::entry(const std::string& folder) {
    const std::lock_guard lock(mutex_);
    auto found = std::ranges::find(entries_, folder, &std::pair<std::string, std::shared_ptr<Entry>>::first);
    if (found == entries_.end())
        entries_.emplace_front(folder, std::make_shared<Entry>());
    else
        entries_.splice(entries_.begin(), entries_, found);
    if (entries_.size() > at_most_) entries_.pop_back();
    return entries_.front().second;
}

std::shared_ptr<const KeptJudgement> JudgedOrders::still_true(const Entry& entry, const std::string& folder,
                                                              work::Depth depth) {
    const std::lock_guard lock(entry.reading);
    if (!entry.kept) return {};
    const work::Depth& known = entry.kept->order.depth;
    if ((depth.laws && !known.laws) || (depth.monte_carlo && !known.monte_carlo)) return {};
    for (const FileStand& stand : entry.stands)
        if (!(stand == stand_of(folder, stand.name))) return {};
    return entry.kept;
}

std::shared_ptr<const KeptJudgement> JudgedOrders::known(const std::string& folder, work::Depth depth) const {
    std::shared_ptr<Entry> found;
    {
        const std::lock_guard lock(mutex_);
        for (const auto& one : entries_)
            if (one.first == folder) found = one.second;
    }
    return found ? still_true(*found, folder, depth) : nullptr;
}

Result<std::shared_ptr<const KeptJudgement>> JudgedOrders::judged(const std::string& folder, Instant now,
                                                                  work::Depth depth) {
    const std::shared_ptr<Entry> at = entry(folder);
    const std::lock_guard judging(at->judging);
    if (auto kept = still_true(*at, folder, depth)) return kept;
    const std::int64_t began_ns = work::time_now().ns;
    auto files = work::files_at_hand(folder);
    if (!files) return files.error();
    auto judged = work::judge_order(**files, now, {}, {}, {}, depth);
    if (!judged) return judged.error();
    auto stands = stands_of(folder, judged->record);
    const bool settled = std::ranges::all_of(
        stands, [&](const FileStand& stand) { return stand.changed_ns + settled_ns < began_ns; });
    auto kept = std::make_shared<const KeptJudgement>(
        KeptJudgement{std::move(files).value(), std::move(judged).value()});
    const std::lock_guard reading(at->reading);
    at->kept = settled ? kept : nullptr;
    at->stands = std::move(stands);
    return kept;
}

}  // namespace ebbtide::server
