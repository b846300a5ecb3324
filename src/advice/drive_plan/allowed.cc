#include "advice/drive_plan/internal/allowed.h"

namespace fuelwright::advice::internal {

double Allowed::share(AbsolutePressure p) const {
  return p.from_zero.si / input_.sheet.place.pressure.value.from_zero.si;
}

bool Allowed::at(EngineSpeed n, AbsolutePressure p, bool ladder) const {
  if (n > input_.sheet.wishes.rev_limit.value) return false;
  if (!high(p)) return true;  // light load: a wrong mixture does no harm for a moment
  if (input_.stop_finding || !input_.outlook) return false;
  const Outlook& o = *input_.outlook;
  const auto shares =
      o.grid.shares({.speed = n, .map = p, .ambient = input_.sheet.place.pressure.value});
  for (std::size_t i = 0; i < static_cast<std::size_t>(shares.count); ++i) {
    if (shares.share[i] < kTouches) continue;
    const NodeOutlook& node = o.nodes[static_cast<std::size_t>(shares.node[i])];
    // With care for another reason than a lean mixture is care enough on a short step.
    const bool not_lean = node.chance && *node.chance <= o.options.fine_chance;
    const bool good = node.go == Go::driven || node.go == Go::fine ||
                      (node.go == Go::with_care && (ladder || not_lean));
    if (!good) return false;
  }
  return true;
}

}  // namespace fuelwright::advice::internal
