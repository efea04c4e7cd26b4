#include "recording/source.hpp"

#include <utility>

#include "recording/bytes.hpp"
#include "recording/container_reader.hpp"
#include "recording/delimited_text.hpp"
#include "recording/hdf5_reader.hpp"
#include "recording/sound.hpp"

namespace ebbtide::recording {

namespace {

// Each kind tells itself by the first bytes; what none of them claims is read as text.
Result<std::unique_ptr<Source>> open_kind(Bytes bytes, const ReadOptions& options) {
    const Result<std::string_view> head = bytes.peek();
    if (!head) return head.error();
    if (looks_like_hdf5(*head)) return open_hdf5(std::move(bytes), options);
    if (looks_like_sound(*head)) return open_sound(std::move(bytes), options);
    if (container::looks_like_one(*head)) return open_container(std::move(bytes), options);
    return open_delimited_text(std::move(bytes), options);
}

}  // namespace

Result<std::unique_ptr<Source>> open(const std::string& path, const ReadOptions& options) {
    Result<Bytes> bytes = Bytes::open(path, options.hash);
    if (!bytes) return bytes.error();
    return open_kind(std::move(bytes).value(), options);
}

Result<std::unique_ptr<Source>> open_bytes(std::string bytes, const std::string& name,
                                           const ReadOptions& options) {
    return open_kind(Bytes::of(std::move(bytes), name, options.hash), options);
}

Result<std::unique_ptr<Source>> open_stream(std::unique_ptr<transport::ByteStream> stream,
                                            const ReadOptions& options) {
    return open_kind(Bytes::of(std::move(stream), options.hash), options);
}

}  // namespace ebbtide::recording
