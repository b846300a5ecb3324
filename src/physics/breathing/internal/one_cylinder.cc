// The fast form: plenum - runner - cylinder - primary - junction - collector - open air.
#include <algorithm>
#include <cmath>

#include "physics/breathing/internal/network_common.h"

namespace fuelwright::physics {

namespace {

constexpr double kLastCapture_deg = 690;

PipeShape mean_runner(const PartsOf& p, int) { return {p.runner_mean_m, p.runner_area_m2}; }

// How much later the other cylinders of a bank do what the first one does, in mean steps.
std::vector<double> lags_in_bank(const PartsOf& p) {
  int members = 0;
  for (const int b : p.bank) members += b == p.bank[0];
  std::vector<double> lags;
  for (int k = 1; k < members; ++k)
    lags.push_back(static_cast<double>(kCycleDegrees) * k / members);
  return lags;
}
// The other cylinders that breathe from the first one's plenum.
void share_plenum(kernel::Reservoir* r, std::span<const LanePlace> lanes, const Batch& batch) {
  const PartsOf& parts = *lanes[0].engine;
  const int sharing =
      static_cast<int>(std::count(parts.plenum.begin(), parts.plenum.end(), parts.plenum[0]));
  if (sharing < 2) return;  // a throttle of its own: nothing else draws there
  r->sharing = sharing;
  each(r->before_pa, lanes, [&](const LanePlace& l) {
    return std::max(batch.surroundings.ambient.from_zero.si, 1.02 * l.map_pa);
  });
  each(r->volume_m3, lanes,
       [](const LanePlace& l) { return l.engine->plenum_m3 / l.engine->plenums; });
  each(r->inertance, lanes, [](const LanePlace& l) {
    return l.engine->duct_m / (l.engine->duct_area_m2 / l.engine->plenums);
  });
}

}  // namespace

ValveTables::ValveTables(std::span<const EngineModel::Parts* const> lanes, int width) {
  const std::size_t size =
      static_cast<std::size_t>(kCycleDegrees) * static_cast<std::size_t>(width);
  for (auto* t : {&intake_in_, &intake_back_, &exhaust_out_, &exhaust_back_}) t->resize(size + 16);
  double last = 0;
  for (const EngineModel::Parts* p : lanes) last = std::max(last, p->intake.shuts_deg);
  capture_deg_ = std::min(std::ceil(last) + 1, kLastCapture_deg);
  const auto aligned = [](std::vector<float>& t) {
    return reinterpret_cast<float*>((reinterpret_cast<std::uintptr_t>(t.data()) + 63) / 64 * 64);
  };
  for (int d = 0; d < kCycleDegrees; ++d) {
    for (int l = 0; l < width; ++l) {
      const auto& p =
          *lanes[static_cast<std::size_t>(l) < lanes.size() ? static_cast<std::size_t>(l) : 0];
      const std::size_t at = static_cast<std::size_t>(d) * static_cast<std::size_t>(width) +
                             static_cast<std::size_t>(l);
      const auto deg = static_cast<std::size_t>(d);
      aligned(intake_in_)[at] = static_cast<float>(p.intake.forward[deg]);
      aligned(intake_back_)[at] = static_cast<float>(p.intake.reverse[deg]);
      aligned(exhaust_out_)[at] = static_cast<float>(p.exhaust.forward[deg]);
      aligned(exhaust_back_)[at] = static_cast<float>(p.exhaust.reverse[deg]);
    }
  }
}

kernel::Valves ValveTables::view() const {
  const auto aligned = [](const std::vector<float>& t) {
    return reinterpret_cast<const float*>((reinterpret_cast<std::uintptr_t>(t.data()) + 63) / 64 *
                                          64);
  };
  return {aligned(intake_in_), aligned(intake_back_), aligned(exhaust_out_),
          aligned(exhaust_back_)};
}

void one_cylinder(std::span<const LanePlace> lanes, const Batch& batch, const ValveTables& valves,
                  kernel::Network* out) {
  kernel::Network& net = *out;
  net = {};
  set_gas(&net, lanes, batch);
  net.valves = valves.view();
  net.capture_deg = valves.capture_deg();
  const int intake = add_pipe(&net, lanes, batch, Side::intake, 1, mean_runner, 0);
  const int exhaust = add_pipe(&net, lanes, batch, Side::exhaust, 0, primary, 0);
  const int pipe = add_pipe(&net, lanes, batch, Side::exhaust, -1, collector, 0);
  const int plenum = add_reservoir(&net, kernel::Kind::returning, Side::intake);
  each(net.reservoir[plenum].pressure_pa, lanes, [](const LanePlace& l) { return l.map_pa; });
  all(net.reservoir[plenum].temperature_k, batch.surroundings.intake_air.from_zero.si);
  share_plenum(&net.reservoir[plenum], lanes, batch);
  const int cylinder = add_cylinder(&net, lanes, 0);
  const int junction = add_reservoir(&net, kernel::Kind::volume, Side::exhaust);
  all(net.reservoir[junction].pressure_pa, batch.surroundings.ambient.from_zero.si);
  all(net.reservoir[junction].temperature_k, 900);
  all(net.reservoir[junction].burnt, 1);
  const PartsOf& parts = *lanes[0].engine;
  const auto others = lags_in_bank(parts);
  size_junction(&net.reservoir[junction], lanes, batch, collector_area, 1, primary_area,
                static_cast<double>(others.size() + 1));
  const double share = static_cast<double>(others.size() + 1) / parts.cylinders;
  const int outlet = add_outlet(&net, lanes, batch, share, 1);
  add_open_end(&net, lanes, intake, 0, plenum, true);
  add_valve(&net, intake, 1, cylinder, 1);
  add_valve(&net, exhaust, 0, cylinder, 2);
  add_open_end(&net, lanes, exhaust, 1, junction, false);
  kernel::Joint& merge = net.joint[net.joints - 1];
  for (const double lag : others) merge.lag_deg[merge.copies++] = lag;
  add_open_end(&net, lanes, pipe, 0, junction, false);
  add_open_end(&net, lanes, pipe, 1, outlet, false);
}

}  // namespace fuelwright::physics
