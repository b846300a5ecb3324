#include "loop.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>

#include "advice/drive_plan/drive_plan.h"
#include "advice/proposal/targets.h"

namespace fuelwright::bench {
namespace {

constexpr double kCaution = 0.03;  // as Score::within_3
constexpr std::uint64_t kSeed = 7000;

template <class T>
T or_give_up(Result<T> result) {
  if (result.ok()) return std::move(*result);
  fmt::print(stderr, "{}\n", result.error().line());
  std::exit(1);
}

struct Known {
  advice::MapEstimate estimate;
  std::optional<advice::Outlook> outlook;
};

// What was recorded with which table.
struct Drives {
  std::vector<signals::Recording> recordings;
  std::vector<car::Surface> tables;
};

advice::MapEstimate estimated(const TestCar& car, const Drives& drives) {
  advice::ObserveOptions observe;
  observe.way = advice::Way::correction;
  std::vector<advice::Driving> list;
  for (std::size_t i = 0; i < drives.recordings.size(); ++i) {
    auto d = or_give_up(advice::Driving::of_sensors(drives.recordings[i], car.sheet, car.table(),
                                                    drives.tables[i], observe));
    for (auto& one : d) list.push_back(std::move(one));
  }
  advice::DynamicOptions options;
  options.dynamics = advice::DynamicsPrior::of(car.sheet);
  return advice::estimate_dynamic(car.table(), car::TableWhat::ve, list, {}, options).map;
}

Scores judged(const Material& m, const advice::MapEstimate& e) {
  return scores_of(m, kLongest_min, [&](const car::OperatingPoint& at) {
    const auto a = e.at(at);
    return Answer{a.ln, a.sd};
  });
}

// Below full throttle, without overrun and what burnt gas spoils.
double part_load(const Material& m, const advice::MapEstimate& e) {
  return score(
             m.judge, m.car.table(), [](Where w, double) { return w == Where::driven; },
             [&](const car::OperatingPoint& at) {
               const auto a = e.at(at);
               return Answer{a.ln, a.sd};
             })
      .rms();
}

class Loop {
 public:
  Loop(const Material& m, bool true_sensor)
      : m_(m),
        truth_(true_sensor ? with_true_sensor(m.car.truth) : m.car.truth),
        unit_(m.car.table()),
        estimate_(advice::not_driven(m.car.table(), car::TableWhat::ve,
                                     advice::table_as_found_prior(), m.car.sheet)) {
    const sim::virtual_car::Cycle cycle = ordinary_driving(m.car.number);
    for (double t = 0; t < cycle.length().si; t += 1) {
      speeds_.push_back(std::max(0.0, cycle.speed_at(t * second).si));
    }
    options_.top_speed = Speed{*std::ranges::max_element(speeds_)};
    options_.good = kCaution;
  }

  std::optional<Mark> next(double minutes) {
    options_.most = minutes * minute;
    std::vector<const signals::Recording*> seen;
    for (const auto& r : drives_.recordings) seen.push_back(&r);
    const advice::Seen of = advice::seen_in(seen, m_.car.sheet, &unit_);
    const advice::OnRoad road(m_.car.sheet, &unit_, of);
    use_ = advice::Use::of_speeds(road, unit_.grid, speeds_, "the speeds of its ordinary driving");
    const auto plan = or_give_up(advice::plan_drive({.estimate = estimate_,
                                                     .sheet = m_.car.sheet,
                                                     .ve = &unit_,
                                                     .use = use_,
                                                     .outlook = outlook_ ? &*outlook_ : nullptr,
                                                     .seen = of},
                                                    options_));
    if (plan.verdict != advice::PlanVerdict::drive) return std::nullopt;
    Mark mark{.said_rms = plan.then().sd,
              .said_within = plan.then().within,
              .steps = static_cast<int>(plan.steps.size())};
    for (const auto& s : plan.steps) mark.pulls += s.feel == advice::Feel::full;
    drive(plan.plan(), mark);
    learn();
    const Scores s = judged(m_, estimate_);
    mark.rms = s.all.rms();
    mark.part = part_load(m_, estimate_);
    mark.within = s.all.share_within_3();
    mark.minutes = driven_s_ / 60;
    return mark;
  }

 private:
  void drive(const car::Plan& plan, Mark& mark) {
    car::Calibration in_unit = m_.car.found;
    in_unit.tables.insert_or_assign(car::TableWhat::ve, unit_);
    const sim::virtual_car::DriveRequest request{
        .task = plan,
        .seed = kSeed + 100 * m_.car.number + drives_.tables.size(),
        .length = 3600.0 * second};
    const auto d = or_give_up(sim::virtual_car::drive_car(truth_, m_.car.sheet, in_unit, request));
    mark.cut_short = static_cast<int>(d.cut_short.size());
    drives_.recordings.push_back(read(d.recording));
    drives_.tables.push_back(unit_);
    const auto& r = drives_.recordings.back();
    driven_s_ += static_cast<double>(r.rows) * r.row_step->si;
  }

  // Estimate, load what is proposed, look ahead.
  void learn() {
    estimate_ = estimated(m_.car, drives_);
    const car::Surface aim =
        or_give_up(advice::target_mixture(m_.car.found, m_.car.sheet, unit_.grid));
    unit_ = or_give_up(advice::propose(estimate_, &unit_, aim, {})).surface;
    outlook_ =
        or_give_up(advice::look_ahead({estimate_, m_.car.sheet, unit_, aim, std::nullopt}, {}));
  }

  const Material& m_;
  sim::virtual_car::Truth truth_;
  car::Surface unit_;
  advice::MapEstimate estimate_;
  std::optional<advice::Outlook> outlook_;
  advice::PlanOptions options_;
  advice::Use use_;
  std::vector<double> speeds_;
  Drives drives_;
  double driven_s_ = 0;
};

}  // namespace

std::vector<Mark> by_plan(const Material& m, const LoopOptions& options) {
  Loop loop(m, options.true_sensor);
  std::vector<Mark> out;
  for (const double minutes : options.plans) {
    const auto mark = loop.next(minutes);
    if (!mark) break;
    out.push_back(*mark);
  }
  return out;
}

std::vector<Mark> by_ordinary_driving(const Material& m, const std::vector<double>& minutes) {
  std::vector<Mark> out;
  for (const double t : minutes) {
    Drives drives;
    drives.recordings.push_back(read(first_minutes(m.ordinary, t)));
    drives.tables.push_back(m.car.table());
    const advice::MapEstimate e = estimated(m.car, drives);
    const Scores s = judged(m, e);
    out.push_back({.minutes = t,
                   .rms = s.all.rms(),
                   .part = part_load(m, e),
                   .within = s.all.share_within_3()});
  }
  return out;
}

std::optional<double> minutes_to(const std::vector<Mark>& marks, double Mark::*what, double rms) {
  if (marks.empty() || marks.back().*what > rms) return std::nullopt;
  std::size_t i = marks.size() - 1;
  while (i > 0 && marks[i - 1].*what <= rms) --i;
  if (i == 0) return marks[0].minutes;
  const Mark &a = marks[i - 1], &b = marks[i];
  return a.minutes + (b.minutes - a.minutes) * (a.*what - rms) / (a.*what - b.*what);
}

}  // namespace fuelwright::bench
