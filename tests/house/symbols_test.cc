// The reader of symbols, on texts and on libraries that share what they should not.
#include "symbols.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace fuelwright::house {
namespace {

using testing::Contains;
using testing::ElementsAre;

TEST(Symbols, ANameIsFoundWithoutItsParametersAndWithoutTheTypeOfItsResult) {
  const std::pair<const char*, const char*> kCases[] = {
      {"fuelwright::car::Surface::at(double, double) const", "fuelwright::car::Surface::at"},
      {"fuelwright::kFilmTime_s", "fuelwright::kFilmTime_s"},
      {"vtable for fuelwright::sim::Road", "fuelwright::sim::Road"},
      {"double fuelwright::mean<double, std::vector<int> >(std::vector<int> const&)",
       "fuelwright::mean<double, std::vector<int> >"},
      {"std::vector<fuelwright::car::Axis, std::allocator<fuelwright::car::Axis> >::push_back(int)",
       "std::vector<fuelwright::car::Axis, std::allocator<fuelwright::car::Axis> >::push_back"},
      {"fuelwright::operator<(fuelwright::A, fuelwright::B)", "fuelwright::operator"},
      {"fuelwright::A::operator()(int) const", "fuelwright::A::operator"},
      {"fuelwright::(anonymous namespace)::f(int)", "fuelwright::(anonymous namespace)::f"}};
  for (const auto& [symbol, name] : kCases) EXPECT_EQ(qualified_name(symbol), name);
}

TEST(Symbols, WhatNmPrintsIsReadObjectByObject) {
  const auto objects = objects_in("sim_x",
                                  "\nfilm.cc.o:\n"
                                  "0000000000000000 T fuelwright::film(double)\n"
                                  "0000000000000000 t fuelwright::hidden(double)\n"
                                  "0000000000000010 R fuelwright::kTime\n"
                                  "0000000000000000 W fuelwright::copied()\n"
                                  "                 U fuelwright::needed(int)\n"
                                  "\nroad.cc.o:\n"
                                  "                 U fuelwright::film(double)\n");
  ASSERT_EQ(objects.size(), 2u);
  EXPECT_EQ(objects[0].name, "film.cc.o");
  EXPECT_THAT(objects[0].strong, ElementsAre("fuelwright::film(double)", "fuelwright::kTime"));
  EXPECT_EQ(objects[0].defines.size(), 3u);
  EXPECT_THAT(objects[0].uses, ElementsAre("fuelwright::needed(int)"));
  EXPECT_EQ(objects[1].uses.size(), 1u);
}

TEST(Symbols, WhatIsLinkedIsFollowedThroughOthers) {
  std::vector<ObjectFile> all = objects_in("a", "a.o:\n                 U fuelwright::b()\n");
  for (auto& o : objects_in("b", "b.o:\n0000000000000000 T fuelwright::b()\n"
                                 "                 U fuelwright::c()\n")) {
    all.push_back(o);
  }
  for (auto& o : objects_in("c", "c.o:\n0000000000000000 T fuelwright::c()\n"
                                 "d.o:\n0000000000000000 T fuelwright::d()\n")) {
    all.push_back(o);
  }
  EXPECT_THAT(linked_with(all, [](const ObjectFile& f) { return f.library == "a"; }),
              ElementsAre("a/a.o", "b/b.o", "c/c.o"));
}

}  // namespace
}  // namespace fuelwright::house
