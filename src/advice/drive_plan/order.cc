#include "advice/drive_plan/internal/order.h"

#include <algorithm>

namespace fuelwright::advice::internal {
namespace {

int section(Feel feel) {
  switch (feel) {
    case Feel::idle:
      return 0;
    case Feel::light:
      return 1;
    case Feel::moderate:
      return 2;
    case Feel::overrun:
      return 3;
    case Feel::high:
      return 4;
    case Feel::full:
      return 5;
  }
  broken_contract("a feel of the list", __FILE__, __LINE__);
}

double top_rpm(const Candidate& c) {
  return std::max(c.planned.step.from.rpm, c.planned.step.until.rpm);
}

// Which of the rest is next; for the ladder always the lowest.
std::size_t next_of(const std::vector<const Candidate*>& rest, int now, const PlannedStep* from,
                    bool dyno) {
  std::size_t best = rest.size();
  const auto cost = [&](const Candidate& c) {
    return c.planned.feel == Feel::full ? top_rpm(c) : change_over(from, c.planned, dyno).si;
  };
  for (std::size_t i = 0; i < rest.size(); ++i) {
    if (section(rest[i]->planned.feel) != now) continue;
    if (best == rest.size() || cost(*rest[i]) < cost(*rest[best]) ||
        (cost(*rest[i]) == cost(*rest[best]) && top_rpm(*rest[i]) > top_rpm(*rest[best]))) {
      best = i;
    }
  }
  return best;
}

}  // namespace

std::vector<const Candidate*> in_order(const std::vector<const Candidate*>& picked, bool dyno) {
  std::vector<const Candidate*> rest = picked, out;
  for (int now = 0; now <= section(Feel::full); ++now) {
    while (true) {
      const PlannedStep* from = out.empty() ? nullptr : &out.back()->planned;
      const std::size_t i = next_of(rest, now, from, dyno);
      if (i == rest.size()) break;
      out.push_back(rest[i]);
      rest.erase(rest.begin() + static_cast<std::ptrdiff_t>(i));
    }
  }
  return out;
}

std::vector<PlannedStep> timed(const std::vector<const Candidate*>& ordered, bool dyno) {
  std::vector<PlannedStep> out;
  for (const Candidate* c : ordered) {
    PlannedStep s = c->planned;
    s.change_over = change_over(out.empty() ? nullptr : &out.back(), s, dyno);
    s.other_gear =
        out.empty() || out.back().feel == Feel::idle || out.back().step.gear != s.step.gear;
    out.push_back(s);
  }
  return out;
}

Duration time_of(const std::vector<PlannedStep>& steps) {
  Duration sum{};
  for (const PlannedStep& s : steps) sum = sum + s.change_over + s.time;
  return sum;
}

}  // namespace fuelwright::advice::internal
