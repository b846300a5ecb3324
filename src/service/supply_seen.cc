#include "service/supply_seen.h"

#include "service/size_ground.h"

namespace fuelwright::service {
namespace {

using namespace physics::supply;

// What full throttle asks by this table, speed by speed.
std::vector<Need> needs_at_full(const car::Sheet& sheet, const car::Surface& table,
                                const car::Surface& aim) {
  std::vector<Need> out;
  const AbsolutePressure ambient = sheet.place.pressure.value;
  const double load = table.grid.y.kind() == car::AxisKind::vacuum     ? 0.0
                      : table.grid.y.kind() == car::AxisKind::throttle ? 1.0
                                                                       : ambient.from_zero.si;
  for (std::size_t ix = 0; ix < table.grid.x.size(); ++ix) {
    const double n = table.grid.x[ix];
    if (n <= 0) continue;
    const auto asked = advice::fuel_asked(sheet, rpm(n), ambient, ambient, table.at(n, load),
                                          car::lambda(aim.at(n, load)));
    if (asked) out.push_back({rpm(n), ambient, asked->flow});
  }
  return out;
}

}  // namespace

Result<std::vector<System>> supply_seen(const Ground& ground, const car::Surface& table,
                                        const car::Surface& aim) {
  FW_TRY(const car::Sheet sheet, with_measured(ground.sheet, ground.measured));
  advice::SupplyAheadSettings settings;
  settings.needs = needs_at_full(sheet, table, aim);
  for (auto l = ground.recordings.rbegin(); l != ground.recordings.rend() && !settings.trace; ++l)
    settings.trace = rail_trace_of(l->recording, sheet);
  return advice::drawn_supply(sheet, settings);
}

}  // namespace fuelwright::service
