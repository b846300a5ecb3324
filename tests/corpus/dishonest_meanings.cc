// Dishonest files: tables that can be read, but not as what they claim, or in more than one way.
#include "tests/corpus/corpus.h"

namespace fuelwright::corpus {
namespace {

using Q = signals::Quantity;
constexpr auto kAsk = ErrorCode::needs_answer;

// The usual drive with one column under another name or unit; numbers times `stretch`.
DishonestFile changed(const std::string& name, Q what, const char* header, const char* unit,
                      double stretch, ErrorCode code, const std::string& says) {
  Draft d = usual_draft();
  Column& c = column(d, what);
  c.header = header;
  c.unit = unit;
  c.factor /= stretch;
  if (c.offset != 0) c.offset = 273.15;
  return {name, d.text(), code, says};
}

DishonestFile with_column(const std::string& name, Column more, const std::string& says) {
  Draft d = usual_draft();
  if (more.si.empty()) more.si = driven(more.what);
  d.columns.push_back(std::move(more));
  return {name, d.text(), kAsk, says};
}

DishonestFile answered(const std::string& name, const char* header, signals::ChannelAnswer answer,
                       ErrorCode code, const std::string& says) {
  DishonestFile f{name, usual_draft().text(), code, says};
  f.answers.channels[header] = std::move(answer);
  return f;
}

void unknown_units(std::vector<DishonestFile>& out) {
  out.push_back(
      changed("unknown_pressure.csv", Q::map, "MAP", "flurb", 1, kAsk, "\"flurb\" is no unit"));
  out.push_back(changed("unknown_temperature.csv", Q::coolant, "CLT", "grad", 1, kAsk,
                        "\"grad\" is no unit"));
  out.push_back(
      changed("speed_for_pressure.csv", Q::map, "MAP", "km/h", 1, kAsk, "\"km/h\" is no unit"));
  out.push_back(
      changed("unknown_width.csv", Q::pulse_width, "PW", "ticks", 1, kAsk, "\"ticks\" is no unit"));
  out.push_back(
      changed("unknown_mixture.csv", Q::lambda, "Lambda", "mg", 1, kAsk, "\"mg\" is no unit"));
  Draft cells = usual_draft();
  cells.style.units = Style::Units::cells;
  column(cells, Q::map).unit = "flurb";
  out.push_back({"unknown_in_cells.csv", cells.text(), kAsk, "\"flurb\" is no unit"});
  Draft time = usual_draft();
  time.clock_header = "Time (jiffies)";
  out.push_back({"unknown_time.csv", time.text(), kAsk, "\"jiffies\" is no unit"});
}

void impossible(std::vector<DishonestFile>& out) {
  out.push_back(changed("coolant_of_4000.csv", Q::coolant, "CLT", "degC", 50, kAsk,
                        "coolant temperature lies within"));
  out.push_back(
      changed("rpm_of_90000.csv", Q::rpm, "RPM", "rpm", 20, kAsk, "engine speed lies within"));
  out.push_back(changed("throttle_of_800.csv", Q::throttle, "TPS", "%", 10, kAsk,
                        "throttle position lies within"));
  out.push_back(changed("pressure_of_a_tyre.csv", Q::map, "MAP", "bar", 100, kAsk,
                        "manifold pressure lies within"));
  out.push_back(
      changed("mixture_of_9.csv", Q::lambda, "Lambda", "lambda", 9, kAsk, "would be lambda"));
  Draft below = usual_draft();
  column(below, Q::map).offset = 101325;
  out.push_back({"pressure_below_nothing.csv", below.text(), kAsk, "no absolute pressure"});
  Draft falls = usual_draft();
  column(falls, Q::map).factor = -1000;
  column(falls, Q::map).offset = 125e3;
  out.push_back(
      {"pressure_that_falls.csv", falls.text(), kAsk, "speaks against manifold pressure"});
}

void two_ways(std::vector<DishonestFile>& out) {
  out.push_back(changed("afr_of_what.csv", Q::lambda, "AFR", "", 14.7, kAsk, "afr 14.7"));
  out.push_back(
      changed("lambda_or_volts.csv", Q::lambda, "Wideband", "", 3, kAsk, "fits neither lambda"));
  out.push_back(
      changed("equivalence.csv", Q::lambda, "Equivalence ratio", "", 1, kAsk, "above 1 is rich"));
  out.push_back(changed("phi.csv", Q::lambda, "Phi", "", 1, kAsk, "above 1 is rich"));
  out.push_back(changed("richesse.csv", Q::lambda, "Richesse", "", 1, kAsk, "above 1 is rich"));
  out.push_back(changed("injector.csv", Q::pulse_width, "Injector", "", 1, kAsk, "injector duty"));
  out.push_back(changed("temperature.csv", Q::coolant, "Temperature", "degC", 1, kAsk, ""));
  out.push_back(with_column("two_speeds.csv", {Q::rpm, "Engine speed", "rpm", 1, 0, 0},
                            "both look like engine speed"));
  out.push_back(with_column("two_coolants.csv", {Q::coolant, "ECT", "degC", 1, 273.15, 1},
                            "both look like coolant"));
  out.push_back(with_column("two_mixtures.csv", {Q::lambda, "UEGO", "lambda", 1, 0, 3},
                            "both look like measured mixture"));
  Draft vacuum = usual_draft();
  column(vacuum, Q::map) = {Q::map, "Vacuum", "", -3386.389, 101325, 2, driven(Q::map)};
  out.push_back({"vacuum_of_what.csv", vacuum.text(), kAsk, "counts down from the ambient"});
  Draft bare = usual_draft();
  column(bare, Q::map) = {Q::map, "Boost", "", 6894.757, 101325, 2, driven(Q::map)};
  out.push_back({"boost_of_what.csv", bare.text(), kAsk, "\"Boost\""});
  Draft gauge = usual_draft();
  column(gauge, Q::map) = {Q::map, "Boost pressure", "psi", 6894.757, 101325, 2, driven(Q::map)};
  out.push_back({"boost_in_psi.csv", gauge.text(), kAsk, "psi gauge"});
}

void answers(std::vector<DishonestFile>& out) {
  using signals::ChannelAnswer;
  out.push_back(answered("answer_for_nobody.csv", "MAPP", ChannelAnswer{Q::map, "kPa"},
                         ErrorCode::not_found, "did you mean \"MAP\"?"));
  out.push_back(answered("answer_of_no_unit.csv", "MAP", ChannelAnswer{Q::map, "parsec"},
                         ErrorCode::unknown_unit, "\"parsec\" is no unit"));
  out.push_back(answered("answer_that_cannot_be.csv", "RPM", ChannelAnswer{Q::coolant, "degC"},
                         ErrorCode::out_of_range, "coolant temperature lies within"));
  DishonestFile both{"two_answers.csv", usual_draft().text(), ErrorCode::usage,
                     "unordered and evenly spaced"};
  both.answers.unordered = true;
  both.answers.row_step = 0.1 * second;
  out.push_back(std::move(both));
}

}  // namespace

std::vector<DishonestFile> dishonest_meanings() {
  std::vector<DishonestFile> out;
  unknown_units(out);
  impossible(out);
  two_ways(out);
  answers(out);
  return out;
}

}  // namespace fuelwright::corpus
