#pragma once
// Which recorded column is which.

#include <string>

namespace ebbtide::plan {

/// Headings or column numbers; empty: as the bench file says, else recognised by heading.
struct ChannelNames {
    std::string time;
    std::string specimen;
    std::string electrode;
    std::string marker;
};

}  // namespace ebbtide::plan
