#include "bench/ensemble_prior/engines.h"

#include <fmt/format.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <functional>
#include <iterator>
#include <limits>

#include "car/build/sheet_file.h"
#include "physics/ensemble/serialise.h"
#include "physics/ensemble/suspects.h"

namespace fuelwright::physics {
namespace {

template <class T>
T or_stop(Result<T> result) {
  if (!result) {
    std::fputs((result.error().line() + "\n").c_str(), stderr);
    std::exit(1);
  }
  return std::move(*result);
}

MapPlaces places_of(const car::Sheet& sheet) {
  MapPlaces places;
  for (const double n : {1400, 2000, 2600, 3200, 3700, 4200, 4700, 5200, 5700, 6200})
    places.speeds.push_back(rpm(n));
  for (const double p : {30.0, 45.0, 60.0, 68.0, 82.0, 99.0})
    places.pressures.push_back(absolute(p * kPa));
  places.surroundings = surroundings_of(sheet);
  return places;
}

Drawn drawn(const car::Sheet& sheet, const std::string& name, int count, std::uint64_t seed,
            bool steps, const Run& run) {
  const std::string path = run.keep.empty() ? "" : run.keep + "/" + name;
  if (std::ifstream in(path, std::ios::binary); !path.empty() && in) {
    const std::string bytes{std::istreambuf_iterator<char>(in), {}};
    return or_stop(drawn_from_bytes(bytes));
  }
  DrawSettings settings{.members = count, .seed = seed, .steps = steps};
  settings.maps.threads = run.threads;
  Drawn out = or_stop(draw_engines(sheet, places_of(sheet), settings));
  if (!path.empty()) std::ofstream(path, std::ios::binary) << to_bytes(out);
  return out;
}

void scale(Length* length, double factor) { length->si *= factor; }

void runners(double factor, car::Sheet* s) {
  scale(&s->intake.runner_length.value, factor);
  for (Length& one : s->intake.runner_lengths.values) scale(&one, factor);
}

void pipes(const Cam&, car::Sheet* s) {
  runners(0.67, s);
  scale(&s->exhaust.primary_length.value, 1.33);
}

void flow(double intake, double exhaust, car::Sheet* s) {
  for (VolumeFlow& q : s->heads.flow_intake.values) q.si *= intake;
  for (VolumeFlow& q : s->heads.flow_exhaust.values) q.si *= exhaust;
}

void longer(double intake_deg, double exhaust_deg, car::Sheet* s) {
  const auto add = [](std::initializer_list<car::Known<CrankAngle>*> angles, double deg) {
    for (auto* angle : angles) angle->value = angle->value + crank_degrees(deg);
  };
  car::Cam& c = s->cam;
  add({&c.intake_duration_050, &c.intake_advertised, &c.intake_duration_200}, intake_deg);
  add({&c.exhaust_duration_050, &c.exhaust_advertised, &c.exhaust_duration_200}, exhaust_deg);
}

void later(double deg, car::Sheet* s) {
  auto& line = s->cam.intake_centreline;
  const double beyond = line.tolerance.degrees();
  line.value = line.value + crank_degrees(deg > 0 ? deg + beyond : deg - beyond);
}

}  // namespace

const std::vector<Cam> kCams = {
    {"mild cam, 214/220",
     "intake_duration_050 = \"214 deg\"\nexhaust_duration_050 = \"220 deg\"\n"
     "lobe_separation = \"114 deg\"\nintake_centreline = \"110 deg\"\n"
     "intake_lift = \"0.450 in\"\nexhaust_lift = \"0.460 in\"\n",
     0, false},
    {"big cam, 236/242",
     "intake_duration_050 = \"236 deg\"\nexhaust_duration_050 = \"242 deg\"\n"
     "lobe_separation = \"110 deg\"\nintake_centreline = \"106 deg\"\n"
     "intake_lift = \"0.520 in\"\nexhaust_lift = \"0.520 in\"\n",
     1, true}};

car::Sheet sheet_of(const Cam& cam) {
  return or_stop(car::read_sheet(
      fmt::format("[engine]\nbore = \"4.030 in\"\nstroke = \"3.622 in\"\ncylinders = 8\n"
                  "compression = \"9.8 +- 0.25\"\n[cam]\n{}[exhaust]\n"
                  "primary_length = \"800 mm +- 80 mm\"\n"
                  "[intake]\nrunner_length = \"330 mm +- 33 mm\"\n"
                  "[injection]\ninjector_flow = \"36 lb/h at 43.5 psi\"\n[fuel]\nname = \"E10\"\n",
                  cam.toml),
      "bench"));
}

namespace {

struct Kind {
  const char* name;
  std::function<void(const Cam&, car::Sheet*)> fit;
};

// By physical sense, the sizes those of an honest mistake: another manifold, another cam, the chain
// a tooth and a half out, a blocked catalyst, heads that were never ported, a lobe worn down.
std::vector<Kind> scored_kinds() {
  return {
      {"runner a third shorter, primary a third longer", pipes},
      {"cam 25 deg off (mild longer, big shorter)",
       [](const Cam& c, car::Sheet* s) { longer(c.big ? -25 : 25, c.big ? -25 : 25, s); }},
      {"cam 12 deg early, beyond its tolerance", [](const Cam&, car::Sheet* s) { later(-12, s); }},
      {"exhaust blocked, 60 kPa more at full power",
       [](const Cam&, car::Sheet* s) { s->exhaust.back_pressure.value.above_ambient.si += 60e3; }},
      {"heads flow 25 % less", [](const Cam&, car::Sheet* s) { flow(0.75, 0.75, s); }},
      {"intake lobe worn, 2.5 mm less lift and 12 deg", [](const Cam&, car::Sheet* s) {
         s->cam.intake_lift.value.si -= 0.0025;
         longer(-12, 0, s);
       }}};
}

std::vector<Kind> tuning_kinds() {
  return {
      {"runner a third longer", [](const Cam&, car::Sheet* s) { runners(1.33, s); }},
      {"exhaust cam 20 deg shorter", [](const Cam&, car::Sheet* s) { longer(0, -20, s); }},
      {"cam 10 deg late, beyond its tolerance", [](const Cam&, car::Sheet* s) { later(10, s); }},
      {"intake flow 25 % more", [](const Cam&, car::Sheet* s) { flow(1.25, 1, s); }}};
}

Eigen::MatrixXd engines_of(const Cam& cam, const Kind& kind, int count, std::uint64_t seed,
                           const Run& run) {
  car::Sheet sheet = sheet_of(cam);
  if (kind.fit) kind.fit(cam, &sheet);
  const std::string name = fmt::format("engines-{}-{}-{}-{}", cam.number, seed, count, kind.name);
  std::string file;
  for (const char c : name) file += c == ' ' || c == ',' || c == '%' || c == '/' ? '_' : c;
  const Drawn engines = drawn(sheet, file, count, seed, false, run);
  Eigen::MatrixXd out(count, static_cast<Eigen::Index>(engines.nodes()));
  for (Eigen::Index m = 0; m < out.rows(); ++m) {
    const AirMap& map = engines.members[static_cast<std::size_t>(m)];
    for (Eigen::Index i = 0; i < out.cols(); ++i) {
      const AirNode& node = map.nodes[static_cast<std::size_t>(i)];
      out(m, i) = node.reachable && node.ve > 0 ? std::log(node.ve)
                                                : std::numeric_limits<double>::quiet_NaN();
    }
  }
  return out;
}

// `share` of VE lost at the largest flow: by volume flow squared if it is held back on the way in
// (a share of manifold pressure, the same at any load), at full throttle alone if a flap or a hose
// gives way there.
Eigen::MatrixXd held_back(const Eigen::MatrixXd& twins, const MapPlaces& places, double share,
                          bool full_alone) {
  Eigen::MatrixXd out = twins;
  const auto nx = static_cast<Eigen::Index>(places.speeds.size());
  for (Eigen::Index m = 0; m < out.rows(); ++m) {
    Eigen::ArrayXd flow2(out.cols());
    for (Eigen::Index i = 0; i < out.cols(); ++i) {
      const double ve = std::isnan(twins(m, i)) ? 0 : std::exp(twins(m, i));
      flow2[i] = std::pow(ve * places.speeds[static_cast<std::size_t>(i % nx)].rpm, 2);
      if (full_alone && i / nx + 1 < out.cols() / nx) flow2[i] = 0;
    }
    out.row(m) += (1 - share * flow2 / flow2.maxCoeff()).log().matrix().transpose();
  }
  return out;
}

// The `above` engines from a speed on: a runner or a cam that switches.
Eigen::MatrixXd switched(const Eigen::MatrixXd& below, const Eigen::MatrixXd& above,
                         const MapPlaces& places, double from_rpm) {
  Eigen::MatrixXd out = below;
  const auto nx = static_cast<Eigen::Index>(places.speeds.size());
  for (Eigen::Index i = 0; i < out.cols(); ++i)
    if (places.speeds[static_cast<std::size_t>(i % nx)].rpm >= from_rpm) out.col(i) = above.col(i);
  return out;
}

}  // namespace

Group inside_of(const Cam& cam, const Run& run) {
  return {"as the sheet says",
          engines_of(cam, {"what the sheet says", {}}, run.inside, run.tuning ? 3001 : 1001, run),
          {}};
}

std::vector<Group> outside_of(const Cam& cam, const Run& run) {
  const std::uint64_t seed = run.tuning ? 3101 : 2101;
  const MapPlaces places = places_of(sheet_of(cam));
  const Eigen::MatrixXd twins =
      engines_of(cam, {"what the sheet says", {}}, run.engines, seed, run);
  std::vector<Group> out;
  for (const Kind& kind : run.tuning ? tuning_kinds() : scored_kinds())
    out.push_back({kind.name, engines_of(cam, kind, run.engines, seed, run), twins});
  const double from = run.tuning ? 3500 : 4000;
  out.push_back(
      {run.tuning ? "runner a third longer from 3500 rpm on" : "pipes so from 4000 rpm on",
       switched(twins, out.front().engines, places, from), twins});
  const double share = run.tuning ? 0.10 : 0.15;
  out.push_back({fmt::format("held back before the valves, {:.0f} %", 100 * share),
                 held_back(twins, places, share, false), twins});
  out.push_back({fmt::format("{:.0f} % missing at full throttle only", 100 * share),
                 held_back(twins, places, share, true), twins});
  if (!run.tuning) {
    const double dead = std::log(7.0 / 8.0), larger = std::log(1.1);
    out.push_back({"one cylinder takes no air", (twins.array() + dead).matrix(), twins});
    out.push_back({"displacement a tenth larger", (twins.array() + larger).matrix(), twins});
  }
  return out;
}

std::vector<Suspect> suspects_for(const Cam& cam, const Run& run) {
  const car::Sheet sheet = sheet_of(cam);
  return or_stop(draw_suspects(sheet, places_of(sheet), {.threads = run.threads}));
}

Drawn ensemble_of(const Cam& cam, const Run& run) {
  return drawn(sheet_of(cam), fmt::format("ensemble-{}-{}", cam.number, run.members), run.members,
               1, true, run);
}

}  // namespace fuelwright::physics
