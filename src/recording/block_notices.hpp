#pragma once
// The notices of one block: alike ones are counted, not listed, so that a recording full of faults stays
// readable.

#include <cstdint>
#include <unordered_map>
#include <utility>
#include <vector>

#include "trace/channel.hpp"

namespace ebbtide::recording {

/// Writes into the vector given to begin(), which must outlive the block.
class BlockNotices {
  public:
    void begin(std::vector<trace::Notice>& notices) {
        notices.clear();
        notices_ = &notices;
        places_.clear();
    }
    /// True when one of this kind and column stands there already and was counted up.
    bool counted(trace::Notice::Kind kind, int column, std::uint64_t count = 1) {
        const auto found = places_.find(key_of(kind, column));
        if (found == places_.end()) return false;
        (*notices_)[found->second].count += count;
        return true;
    }
    void add(trace::Notice notice) {
        if (counted(notice.kind, notice.column, notice.count)) return;
        places_.emplace(key_of(notice.kind, notice.column), notices_->size());
        notices_->push_back(std::move(notice));
    }

  private:
    static std::uint64_t key_of(trace::Notice::Kind kind, int column) {
        return static_cast<std::uint64_t>(kind) << 32 | static_cast<std::uint32_t>(column);
    }

    std::vector<trace::Notice>* notices_ = nullptr;
    std::unordered_map<std::uint64_t, std::size_t> places_;
};

}  // namespace ebbtide::recording
