#include "recording/source.hpp"

#include <utility>

#include "recording/bytes.hpp"
#include "recording/container_reader.hpp"
#include "recording/delimited_text.hpp"

namespace ebbtide::recording {
namespace {

/// One line a kind of file that is told by its first bytes; what none of them knows is text, or refused
/// there.
Result<std::unique_ptr<Source>> recognised(Bytes bytes, const ReadOptions& options) {
    const Result<std::string_view> head = bytes.peek();
    if (!head) return head.error();
    if (container::looks_like_one(*head)) {
        auto container = ContainerReader::open(std::move(bytes), options);
        if (!container) return container.error();
        return std::unique_ptr<Source>(std::move(container).value());
    }
    return open_delimited_text(std::move(bytes), options);
}

}  // namespace

Result<std::unique_ptr<Source>> open(const std::string& path, const ReadOptions& options) {
    Result<Bytes> bytes = Bytes::open(path, options.hash);
    if (!bytes) return bytes.error();
    return recognised(std::move(bytes).value(), options);
}

Result<std::unique_ptr<Source>> open_bytes(std::string bytes, const std::string& name,
                                           const ReadOptions& options) {
    return recognised(Bytes::of(std::move(bytes), name, options.hash), options);
}

}  // namespace ebbtide::recording
