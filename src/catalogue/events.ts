import type { Applier } from '../journal/applier.js';
import type { ConfigurationTerms, ModelRow, PartRow, RepairCode } from './records.js';
import type { SpecificationTerms } from './specification-records.js';

interface Approval {
  id: number;
  effectiveFromMs: number;
  approvedById: number;
  approvedAtMs: number;
}

interface Drafting {
  id: number;
  revision: number;
  draftedById: number;
  draftedAtMs: number;
}

const partClassAdded: Applier<{ code: string; name: string }> = ({ catalogue }, { code, name }) =>
  catalogue.addClass(code, name);
const partAdded: Applier<PartRow> = ({ catalogue }, row) => catalogue.addPart(row);
const modelAdded: Applier<ModelRow> = ({ catalogue }, row) => catalogue.addModel(row);
const repairCodeAdded: Applier<RepairCode> = ({ catalogue }, row) => catalogue.addRepairCode(row);

const configurationDrafted: Applier<ConfigurationTerms & Drafting & { code: string }> = (
  { catalogue },
  row,
) => catalogue.addConfiguration(row);
const configurationRevised: Applier<ConfigurationTerms & { id: number; draftedById: number }> = (
  { catalogue },
  row,
) => catalogue.reviseConfiguration(row);
const configurationApproved: Applier<Approval> = ({ catalogue }, row) =>
  catalogue.approveConfiguration(row);

const specificationDrafted: Applier<SpecificationTerms & Drafting & { modelId: number }> = (
  { specifications },
  row,
) => specifications.add(row);
const specificationRevised: Applier<SpecificationTerms & { id: number; draftedById: number }> = (
  { specifications },
  row,
) => specifications.revise(row);
const specificationApproved: Applier<Approval> = ({ specifications }, row) =>
  specifications.approve(row);

export const catalogueEvents = {
  'part-class.added': partClassAdded,
  'part.added': partAdded,
  'model.added': modelAdded,
  'repair-code.added': repairCodeAdded,
  'configuration.drafted': configurationDrafted,
  'configuration.revised': configurationRevised,
  'configuration.approved': configurationApproved,
  'specification.drafted': specificationDrafted,
  'specification.revised': specificationRevised,
  'specification.approved': specificationApproved,
};
