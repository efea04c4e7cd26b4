#pragma once
// The samples that runs may still need: appended as they come, dropped when no run can reach them.

#include <cstdint>
#include <vector>

#include "trace/samples.hpp"

namespace ebbtide::work {

class SampleWindow {
  public:
    void append(const std::vector<double>& time_s, const std::vector<double>& value) {
        // Long runs are copied seldom: memory that nobody has touched yet costs nothing.
        const std::size_t size = store_.time_s.size() + time_s.size();
        if (size > store_.time_s.capacity()) {
            store_.time_s.reserve(4 * size);
            store_.value.reserve(4 * size);
        }
        store_.time_s.insert(store_.time_s.end(), time_s.begin(), time_s.end());
        store_.value.insert(store_.value.end(), value.begin(), value.end());
    }
    /// Samples before this index of the segment are no longer needed. Moves memory only when most of it is
    /// dead.
    void drop_before(std::uint64_t index) {
        if (index <= dropped_) return;
        dead_ = static_cast<std::size_t>(index - dropped_);
        if (dead_ > store_.time_s.size()) dead_ = store_.time_s.size();
        if (dead_ < 4096 || 2 * dead_ < store_.time_s.size()) return;
        const auto count = static_cast<std::ptrdiff_t>(dead_);
        store_.time_s.erase(store_.time_s.begin(), store_.time_s.begin() + count);
        store_.value.erase(store_.value.begin(), store_.value.begin() + count);
        dropped_ += dead_;
        dead_ = 0;
    }
    void drop_before_time(double time_s) { drop_before(dropped_ + store_.view().at_or_after(time_s)); }
    void clear() { *this = SampleWindow{}; }

    [[nodiscard]] trace::Samples view() const { return store_.view(); }
    /// Index of view()'s first sample in the segment.
    [[nodiscard]] std::uint64_t first() const { return dropped_; }
    /// Samples [first, last), indices of the segment.
    [[nodiscard]] trace::Samples slice(std::uint64_t first, std::uint64_t last) const {
        return store_.view().slice(static_cast<std::size_t>(first - dropped_),
                                   static_cast<std::size_t>(last - dropped_));
    }

  private:
    trace::SampleStore store_;
    std::uint64_t dropped_ = 0;
    std::size_t dead_ = 0;
};

}  // namespace ebbtide::work
