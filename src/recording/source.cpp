#include "recording/source.hpp"

#include <utility>

#include "recording/bytes.hpp"
#include "recording/delimited_text.hpp"

namespace ebbtide::recording {

Result<std::unique_ptr<Source>> open(const std::string& path, const ReadOptions& options) {
    Result<Bytes> bytes = Bytes::open(path, options.hash);
    if (!bytes) return bytes.error();
    return open_delimited_text(std::move(bytes).value(), options);
}

Result<std::unique_ptr<Source>> open_bytes(std::string bytes, const std::string& name,
                                           const ReadOptions& options) {
    return open_delimited_text(Bytes::of(std::move(bytes), name, options.hash), options);
}

}  // namespace ebbtide::recording
