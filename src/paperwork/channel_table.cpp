#include "paperwork/channel_table.hpp"

namespace ebbtide::paperwork {

plan::ChannelNames channel_names(TableReader& owner) {
    plan::ChannelNames out;
    if (auto table = owner.optional_table("channels")) {
        out.time = table->text_or("time", "");
        out.specimen = table->text_or("specimen", "");
        out.electrode = table->text_or("electrode", "");
        out.marker = table->text_or("marker", "");
    }
    return out;
}

}  // namespace ebbtide::paperwork
