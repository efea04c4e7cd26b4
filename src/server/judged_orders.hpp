#pragma once
// Orders that were judged already: judging takes seconds, and the page asks again and again.

#include <list>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "work/judge_order.hpp"
#include "work/order_files.hpp"

namespace ebbtide::server {

struct KeptJudgement {
    std::shared_ptr<const work::OrderFiles> files;
    work::JudgedOrder order;
};

/// What an order was judged from, as it lay on the disk: names, sizes and times of last change.
struct FileStand {
    std::string name;
    std::int64_t changed_ns = 0, bytes = -1;  ///< -1: not there
    bool operator==(const FileStand&) const = default;
};

/// Thread safe; one order is judged once, however many ask for it at a time. Memory: the last `at_most`
/// orders.
class JudgedOrders {
  public:
    explicit JudgedOrders(std::size_t at_most = 16) : at_most_(at_most) {}

    /// The order in this folder, judged now, or before if no file that it rests on has changed since, at
    /// least in this depth. Errors: those of judge_order().
    [[nodiscard]] Result<std::shared_ptr<const KeptJudgement>> judged(const std::string& folder, Instant now,
                                                                      work::Depth depth);
    /// Only if it was judged before, in this depth, and nothing has changed since; never takes long.
    [[nodiscard]] std::shared_ptr<const KeptJudgement> known(const std::string& folder,
                                                             work::Depth depth = work::full_depth) const;

  private:
    struct Entry {
        std::mutex judging;
        mutable std::mutex reading;  // of what follows
        std::shared_ptr<const KeptJudgement> kept;
        std::vector<FileStand> stands;
    };
    [[nodiscard]] std::shared_ptr<Entry> entry(const std::string& folder);
    [[nodiscard]] static std::shared_ptr<const KeptJudgement> still_true(const Entry& entry,
                                                                         const std::string& folder,
                                                                         work::Depth depth);

    std::size_t at_most_;
    mutable std::mutex mutex_;
    std::list<std::pair<std::string, std::shared_ptr<Entry>>> entries_;  // the last asked for first
};

}  // namespace ebbtide::server
