#include "work/order_at_hand.hpp"

#include <algorithm>
#include <filesystem>
#include <map>

#include "paperwork/paperwork.hpp"
#include "work/live_order.hpp"
#include "work/live_plan.hpp"

namespace ebbtide::work {
namespace {

void lay_on(std::vector<OrderPlace>& places, const OrderPlace& like, const LaidRun& run) {
    auto place = std::ranges::find_if(places, [&](const OrderPlace& one) {
        return one.key == run.key && one.state != OrderPlace::State::open;
    });
    if (place == places.end()) {
        places.push_back(like);
        place = places.end() - 1;
        place->key = run.key;
        place->state = OrderPlace::State::void_;
    }
    if (run.counts) place->state = OrderPlace::State::filled;
    if (!run.run.empty()) place->runs.push_back(run.run);
}

}  // namespace

Result<std::unique_ptr<OrderFiles>> files_at_hand(const std::string& folder) {
    auto files = folder_files(folder);
    const auto text = files->text("order.toml");
    if (!text) return text.error();
    const auto order = paperwork::parse_order(*text, "order.toml");
    if (!order) return order.error();
    std::error_code none;
    if (order->live_file.empty() || std::filesystem::exists(folder + "/" + order->live_file, none))
        return files;
    return with_file(std::move(files), order->live_file, empty_live_text(order->id));
}

Result<std::vector<LaidRun>> laid_runs(const OrderFiles& files, const record::OrderRecord& documents) {
    std::map<std::string, const paperwork::HeardRun*> heard_in;
    std::vector<paperwork::HeardRun> heard;
    if (const std::string& live = documents.order.live_file; !live.empty()) {
        const auto text = files.text(live);
        if (!text) return text.error();
        // The documents hold the live file's runs already.
        const auto order_text = files.text("order.toml");
        if (!order_text) return order_text.error();
        const auto order = paperwork::parse_order(*order_text, "order.toml");
        if (!order) return order.error();
        auto parsed = paperwork::parse_live(*text, live, *order);
        if (!parsed) return parsed.error();
        heard = std::move(parsed).value();
        for (const paperwork::HeardRun& run : heard) heard_in[run.recording.file] = &run;
    }
    std::vector<LaidRun> laid;
    for (const plan::PlannedRecording& recording : documents.order.recordings) {
        const auto found = heard_in.find(recording.file);
        const paperwork::HeardRun* live = found == heard_in.end() ? nullptr : found->second;
        for (const plan::PlannedRun& run : recording.runs)
            if (!run.without_specimen)
                laid.push_back({run.key, live ? live->run : "",
                                run.set_aside.empty() && (live == nullptr || live->counts)});
    }
    return laid;
}

std::vector<LaidRun> laid_runs(const judge::Judgement& judgement, const plan::Order& order) {
    std::vector<LaidRun> laid;
    for (const judge::JudgedRun& run : judgement.runs)
        if (!run.run_id.empty() && !run.without_specimen && order.specimen(run.key.specimen) != nullptr)
            laid.push_back({run.key, run.run_id, run.counts});
    return laid;
}

std::string_view name_of(OrderPlace::State state) {
    switch (state) {
        case OrderPlace::State::open:
            return "open";
        case OrderPlace::State::filled:
            return "filled";
        case OrderPlace::State::void_:
            return "void";
    }
    return "";
}

std::vector<OrderPlace> order_places(const plan::Order& order, const plan::Method& method,
                                     const std::vector<LaidRun>& laid) {
    const std::string conditions = order.conditions.size() == 1 ? order.conditions.front().id : "";
    const std::vector<PlanPlace> planned = places_of_plan(order, method, conditions);
    std::vector<OrderPlace> places;
    std::vector<bool> is_laid(laid.size(), false);
    for (std::size_t i = 0; i < planned.size(); ++i) {
        const plan::RunKey& key = planned[i].key;
        const OrderPlace open{key, OrderPlace::State::open, {}, i};
        bool any = false;
        for (std::size_t k = 0; k < laid.size(); ++k) {
            const plan::RunKey& at = laid[k].key;
            // What the method leaves open, the run settles.
            if (is_laid[k] || at.specimen != key.specimen || at.replicate != key.replicate ||
                (at.face != key.face && !method.faces.empty()) ||
                (at.polarity != key.polarity && !planned[i].either_polarity))
                continue;
            is_laid[k] = any = true;
            lay_on(places, open, laid[k]);
        }
        if (!any) places.push_back(open);
    }
    for (std::size_t k = 0; k < laid.size(); ++k)
        if (!is_laid[k]) lay_on(places, {}, laid[k]);
    return places;
}

}  // namespace ebbtide::work
