#include "server/held_imports.hpp"

#include <algorithm>

#include "basis/number_text.hpp"
#include "basis/sha256.hpp"

namespace ebbtide::server {

HeldImport HeldImports::hold(std::string name, std::shared_ptr<const std::string> bytes,
                             recording::ReadOptions options) {
    std::string asked = sha256_hex(*bytes);
    for (const std::string* text : {&options.time, &options.specimen, &options.electrode, &options.marker})
        asked += '\n' + *text;
    if (options.sample_interval_s) asked += '\n' + shortest_text(*options.sample_interval_s);
    HeldImport held{sha256_hex(asked).substr(0, 16), std::move(name), std::move(bytes), std::move(options)};
    const std::lock_guard lock(mutex_);
    std::erase_if(files_, [&](const HeldImport& one) { return one.id == held.id; });
    files_.push_front(held);
    std::size_t count = 0, size = 0;
    for (auto it = files_.begin(); it != files_.end();) {
        size += it->bytes->size();
        it = ++count > 1 && (count > at_most || size > at_most_bytes_) ? files_.erase(it) : std::next(it);
    }
    return held;
}

std::optional<HeldImport> HeldImports::named(const std::string& id) const {
    const std::lock_guard lock(mutex_);
    const auto found = std::ranges::find(files_, id, &HeldImport::id);
    return found == files_.end() ? std::nullopt : std::optional(*found);
}

}  // namespace ebbtide::server
